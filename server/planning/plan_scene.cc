#include "server/planning/plan_scene.h"

#include "server/book/names.h"
#include "server/day/choices.h"
#include "server/day/flights.h"
#include "server/day/power_limit.h"
#include "server/day/results.h"
#include "server/day/scene.h"
#include "server/day/state.h"
#include "server/day/words.h"

#include <fmt/format.h>
#include <boost/assert.hpp>

#include <algorithm>
#include <bit>
#include <cmath>
#include <map>
#include <set>

namespace fieldpeg::planning {
namespace {

using planner::Choice;
using planner::Pick;
using planner::Tables;

/// Everybody on a day who has a transmitter, pilots first.
std::vector<std::string> transmitters(const v1::DaySheet& sheet) {
    std::vector<std::string> names;
    for (const auto& p : sheet.pilots())
        if (p.has_video()) names.push_back(p.name());
    for (const auto& r : sheet.relays()) names.push_back(r.name());
    return names;
}

/// The same day with everybody off who is on the air or the bench; not who is down.
v1::DaySheet as_landed(v1::DaySheet sheet) {
    day::for_each_holder(sheet, [](auto& one) {
        if (one.has_claim() && one.claim().stage() != v1::Claim::down)
            one.mutable_claim()->set_stage(v1::Claim::off_air);
    });
    return sheet;
}

/// The flight groups in which those planned for fly: who has none flies with each of them.
std::vector<std::uint32_t> flights_of(const v1::DaySheet& sheet, const v1::Planned& planned) {
    const auto all = day::flight_groups(sheet);
    if (all.front() == 0) return {};
    std::set<std::uint32_t> flights;
    day::for_each_holder(sheet, [&](const auto& one) {
        const bool is_named = std::ranges::any_of(planned.who(), [&](const auto& written) {
            return book::name_key(written) == book::name_key(one.name());
        });
        if (!is_named) return;
        if (one.has_claim() && one.claim().group() != 0)
            flights.insert(one.claim().group());
        else
            flights.insert(all.begin(), all.end());
    });
    return flights.empty() ? all : std::vector(flights.begin(), flights.end());
}

/// A name as the day spells it.
std::optional<std::string> spelled(const std::string& written,
                                   const std::vector<std::string>& known) {
    for (const auto& name : known)
        if (book::name_key(name) == book::name_key(written)) return name;
    return std::nullopt;
}

Refusal no_transmitter(const char* where, const std::string& written,
                       const std::vector<std::string>& known) {
    const auto near = book::nearest(written, known);
    return {Refusal::Kind::not_found, where,
            fmt::format("'{}' has no transmitter on this day", book::printable(written)),
            near.empty() ? "" : fmt::format("did you mean '{}'?", near)};
}

/// The receivers that are meant for a transmitter.
std::vector<const v1::Receiver*> listeners(const v1::DaySheet& sheet, const std::string& name) {
    std::vector<const v1::Receiver*> all;
    const auto add = [&](const auto& receivers, const std::string& owner) {
        for (const auto& v : receivers)
            if ((v.hears() == "video" ? owner : v.hears()) == name) all.push_back(&v);
    };
    for (const auto& p : sheet.pilots()) add(p.receivers(), p.name());
    for (const auto& r : sheet.relays()) add(r.receivers(), r.owner());
    return all;
}

bool lets_in(const v1::DaySheet& sheet, const v1::Receiver& v, const v1::Channel& channel) {
    const auto& profiles = sheet.receiver_profiles();
    const auto profile = std::ranges::find(profiles, v.receiver(), &v1::ReceiverProfile::name);
    return profile == profiles.end() || (profile->front_end_low_mhz() <= channel.mhz() &&
                                         channel.mhz() <= profile->front_end_high_mhz());
}

/// Channels for a transmitter, and those that only fewer of its receivers can be tuned to.
struct Heard {
    std::vector<v1::Channel> channels, by_fewer;
};

/// Of some channels those that the same receivers can be tuned to: as many receivers as possible,
/// then as many channels.
Heard heard(const v1::DaySheet& sheet, const std::vector<v1::Channel>& channels,
            const std::vector<const v1::Receiver*>& receivers) {
    if (receivers.empty()) return {channels, {}};
    std::map<std::vector<bool>, std::vector<v1::Channel>> by_ears;
    for (const auto& channel : channels) {
        std::vector<bool> ears;
        ears.reserve(receivers.size());
        for (const auto* v : receivers)
            ears.push_back(day::can_tune(*v, channel) && lets_in(sheet, *v, channel));
        by_ears[ears].push_back(channel);
    }
    const auto merit = [](const auto& entry) {
        return std::pair(std::ranges::count(entry.first, true), entry.second.size());
    };
    const auto best = std::ranges::max_element(by_ears, {}, merit);
    if (best == by_ears.end() || std::ranges::count(best->first, true) == 0) return {};
    Heard heard{best->second, {}};
    for (const auto& [ears, some] : by_ears)
        if (ears != best->first && std::ranges::count(ears, true) > 0)
            heard.by_fewer.insert(heard.by_fewer.end(), some.begin(), some.end());
    return heard;
}

bool holds_channel(const day::TransmitterOf& of) {
    return of.source == day::Source::video || of.source == day::Source::relay;
}

/// What the planner's tables would take for more than it is: bursts count less than what is there
/// all the time, and a ground side goes where its pilot goes.
bool is_beside(const day::TransmitterOf& of, const spectrum::Transmitter& transmitter) {
    return of.source == day::Source::uplink || transmitter.hops ||
           transmitter.duty < spectrum::full_duty;
}

}  // namespace

Result<PlanScene> PlanScene::make(const v1::DaySheet& sheet, const PlanFor& what) {
    auto day = what.planned.as_landed() ? as_landed(sheet) : sheet;
    const auto flights =
        what.group || what.in_groups ? std::vector<std::uint32_t>{} : flights_of(day, what.planned);
    auto group = what.group;
    if (flights.size() == 1) group = flights.front();
    PlanScene scene(group ? day::of_group(day, *group) : std::move(day));
    if (flights.size() > 1) scene.flights_ = flights;
    scene.leave_out_other_flights();
    scene.group_ = group;
    scene.in_groups_ = what.in_groups;
    scene.choose_powers_ = what.planned.choose_powers();
    scene.steady_from_db_ = what.steady_from_db;
    scene.set_aside(what.aside);
    if (auto wrong = scene.choose_who(what)) return *std::move(wrong);
    scene.add_question();
    std::set<double> channels;
    for (const auto& seat : scene.seats_)
        for (const auto& channel : seat.channels) channels.insert(channel.mhz());
    if (channels.size() > spectrum::distinct_channels_max)
        return Refusal{Refusal::Kind::out_of_range, "channels",
                       fmt::format("there are {} different channels to choose from, more than {}",
                                   channels.size(), spectrum::distinct_channels_max),
                       "give pilots fewer, or plan for some of them: --who"};
    return scene;
}

/// What is held by those left aside is not counted, unless it radiates.
void PlanScene::set_aside(const std::vector<std::string>& pilots) {
    aside_ = pilots;
    for (const auto& name : transmitters(sheet_)) {
        const auto holder = *day::holder(sheet_, name);
        if (!is_aside(holder.owner_name) || !holder.claim || holder.radiates()) continue;
        day::for_each_holder(sheet_, [&](auto& one) {
            if (one.id() == holder.id) one.clear_claim();
        });
    }
}

bool PlanScene::is_aside(const std::string& pilot) const {
    return std::ranges::find(aside_, pilot) != aside_.end();
}

std::optional<Refusal> PlanScene::choose_who(const PlanFor& what) {
    const auto known = transmitters(sheet_);
    const auto is_left_out = [&](const std::string& name) {
        return is_aside(day::holder(sheet_, name)->owner_name);
    };
    const auto is_on_with_every_group = [&](const std::string& name) {
        const auto* claim = day::holder(sheet_, name)->claim;
        return claim && (claim->always() || claim->stage() == v1::Claim::down);
    };
    std::vector<std::string> who;
    for (const auto& written : what.planned.who()) {
        const auto name = spelled(written, known);
        if (!name) return no_transmitter("who", written, known);
        if (in_groups_ && is_on_with_every_group(*name))
            return Refusal{Refusal::Kind::conflict, "who",
                           fmt::format("{} is on whichever group flies, and so in none", *name),
                           "leave that name out"};
        if (std::ranges::find(who, *name) == who.end() && !is_left_out(*name)) who.push_back(*name);
    }
    for (const auto& written : what.planned.keep()) {
        const auto name = spelled(written, known);
        if (!name) return no_transmitter("keep", written, known);
        if (!day::holder(sheet_, *name)->claim)
            return Refusal{Refusal::Kind::conflict, "keep",
                           fmt::format("{} holds no channel to keep", *name),
                           "leave that name out"};
        kept_.push_back(*name);
    }
    if (what.planned.who().empty() && what.everybody)
        for (const auto& name : known) {
            if (is_left_out(name)) continue;
            const auto* claim = day::holder(sheet_, name)->claim;
            const bool is_of_a_group = claim || (!group_ && flights_.empty());
            if (in_groups_ ? !is_on_with_every_group(name) : is_of_a_group) who.push_back(name);
        }
    for (const auto& name : who)
        if (auto wrong = seat_transmitter(name)) return wrong;
    if (in_groups_) leave_out_other_groups();
    if (!flights_.empty()) say_who_is_in_no_flight();
    return std::nullopt;
}

/// Groups in which nobody is planned for fly at another time.
void PlanScene::leave_out_other_flights() {
    if (flights_.empty()) return;
    day::for_each_holder(sheet_, [&](auto& one) {
        if (!one.has_claim() || one.claim().always() || one.claim().group() == 0 ||
            one.claim().stage() == v1::Claim::down || flight(one.claim()))
            return;
        one.clear_claim();
    });
}

/// Where among the flights a claim is; none: it is in each of them.
std::optional<std::size_t> PlanScene::flight(const v1::Claim& claim) const {
    const auto found = std::ranges::find(flights_, claim.group());
    if (claim.always() || claim.stage() == v1::Claim::down || found == flights_.end())
        return std::nullopt;
    return static_cast<std::size_t>(found - flights_.begin());
}

/// Each transmitter of the question into its flight; what is in none is on in all of them.
void PlanScene::put_into_flights() {
    question_.groups = flights_.size();
    question_.in_every_group.clear();
    for (std::size_t t = 0; t < seats_.size(); ++t) {
        const auto holder =
            seats_[t].owner.empty() ? std::nullopt : day::holder(sheet_, seats_[t].name);
        const auto in = holder && holder->claim ? flight(*holder->claim) : std::nullopt;
        if (in)
            question_.allowed[t].groups = std::uint64_t{1} << *in;
        else
            question_.in_every_group.push_back(t);
    }
}

void PlanScene::say_who_is_in_no_flight() {
    said_.push_back(
        fmt::format("flight groups {}, each as it flies; who is in none flies with each of them",
                    fmt::join(flights_, ", ")));
    std::vector<std::string> names;
    for (const auto& name : transmitters(sheet_))
        if (!day::holder(sheet_, name)->claim && !is_aside(name)) names.push_back(name);
    if (names.empty()) return;
    said_.push_back(
        fmt::format("not planned for, as they hold nothing: {}; a rota puts them into "
                    "groups, or name them: --who",
                    fmt::join(names, ", ")));
}

/// Whoever is not planned for and holds a channel in a flight group flies at another time.
void PlanScene::leave_out_other_groups() {
    day::for_each_holder(sheet_, [&](auto& one) {
        if (!one.has_claim() || one.claim().group() == 0 || seat(one.name())) return;
        first_group_ = std::max(first_group_, one.claim().group() + 1);
        if (!day::radiates(one.claim().stage())) one.clear_claim();
    });
}

/// What may be chosen for one who is planned for; a first guess stands as claim until then.
std::optional<Refusal> PlanScene::seat_transmitter(const std::string& name) {
    const auto holder = *day::holder(sheet_, name);
    Seat seat{name, holder.owner_name, true, false, false, {}, {}, std::nullopt};
    if (holder.claim) seat.held = *holder.claim;
    seat.stays = holder.radiates() || std::ranges::find(kept_, name) != kept_.end();
    if (seat.stays) {
        seat.channels = {seat.held->channel()};
        seats_.push_back(std::move(seat));
        return std::nullopt;
    }
    const auto found = heard(sheet_, day::channels_of(holder, sheet_), listeners(sheet_, name));
    seat.channels = found.channels;
    if (!found.by_fewer.empty() && !holder.gear->moves_by_itself())
        say_what_fewer_hear(name, found.by_fewer);
    if (seat.channels.empty())
        return Refusal{Refusal::Kind::conflict, name,
                       "has no channel that one of the receivers meant for it can be tuned to",
                       "give it channels, or leave it out: --who"};
    if (holder.gear->moves_by_itself())  // it goes where it likes: there is nothing to choose
        seat.channels = {seat.held ? seat.held->channel() : seat.channels.front()};
    seat.least_power = !seat.held || choose_powers_;
    v1::Claim guess;
    *guess.mutable_channel() = seat.channels.front();
    guess.set_power_dbm(seat.held ? seat.held->power_dbm()
                                  : day::powers_within(sheet_, *holder.gear).front());
    guess.set_stage(v1::Claim::held);
    if (seat.held) guess.set_group(seat.held->group());
    day::claim_of(sheet_, holder.id) = guess;
    seats_.push_back(std::move(seat));
    return std::nullopt;
}

/// What is proved is not proved of these.
void PlanScene::say_what_fewer_hear(const std::string& name,
                                    const std::vector<v1::Channel>& left_out) {
    has_every_channel_ = false;
    std::vector<std::string> names;
    names.reserve(left_out.size());
    for (const auto& channel : left_out) names.push_back(channel.name());
    said_.push_back(fmt::format(
        "{}: not all receivers meant for it can be tuned to {}, which are not looked at", name,
        fmt::join(names, ", ")));
}

/// That of one who is planned; of anybody else one on what it holds.
PlanScene::Seat PlanScene::seat_of(const day::TransmitterOf& of) const {
    const auto seated = std::ranges::find(seats_, of.name, &Seat::name);
    if (seated != seats_.end()) return *seated;
    return {of.name,     holds_channel(of) ? of.owner : "", false, true, false, {of.channel}, {},
            std::nullopt};
}

/// The channels of a seat, with its power or, where that is chosen, all it can be set to.
planner::Allowed PlanScene::allowed_in(const Seat& seat, const day::TransmitterOf& of,
                                       spectrum::Dbm power) {
    planner::Allowed allowed;
    for (const auto& channel : seat.channels)
        allowed.channels.push_back(spectrum::from_mhz(channel.mhz()));
    if (!seat.least_power) {
        allowed.powers = {power};
        return allowed;
    }
    for (const double dbm : day::powers_within(sheet_, *of.gear)) allowed.powers.emplace_back(dbm);
    const double least_dbm = allowed.powers.front().count();
    if (const auto above = day::above_limit_text(sheet_, least_dbm); !above.empty())
        said_.push_back(fmt::format(
            "{}: has no step within the limit: {}; only the marshal allows it", seat.name, above));
    return allowed;
}

/// The scene, seats in its order, and what is allowed beside them.
void PlanScene::add_question() {
    const auto situation = day::situation(sheet_, v1::Basis::held);
    question_.scene = situation.scene;
    question_.scene.transmitters.clear();
    question_.scene.controls.clear();
    std::vector<Seat> in_order;
    for (std::size_t t = 0; t < situation.transmitters.size(); ++t) {
        const auto& of = situation.transmitters[t];
        const auto& transmitter = situation.scene.transmitters[t];
        if (is_beside(of, transmitter)) {
            std::optional<std::size_t> follows;
            if (of.source == day::Source::uplink) follows = situation.transmitter(of.owner);
            question_.beside.push_back({transmitter, follows});
            beside_.push_back(of.name);
            continue;
        }
        question_.scene.transmitters.push_back(transmitter);
        in_order.push_back(seat_of(of));
        const auto& seat = in_order.back();
        question_.allowed.push_back(allowed_in(seat, of, transmitter.power));
        if (holds_channel(of) && of.gear->moves_by_itself()) add_moving(of);
        if (!seat.is_planned)
            question_.in_every_group.push_back(question_.scene.transmitters.size() - 1);
    }
    seats_ = std::move(in_order);
    leave_out_what_takes_control();
    find_unremarked();
    if (!choose_powers_) settle_powers();
    if (!flights_.empty()) put_into_flights();
    if (!in_groups_) return;
    for (const auto& r : sheet_.relays()) {  // a relay flies with its owner
        const auto relay = seat(r.name()), owner = seat(r.owner());
        if (relay && owner && seats_[*relay].is_planned && seats_[*owner].is_planned)
            question_.together.emplace_back(*relay, *owner);
    }
}

/// Where else the transmitter goes that was added last: wherever it is said to be now, its channels
/// are the same.
void PlanScene::add_moving(const day::TransmitterOf& of) {
    std::vector<spectrum::Hertz> elsewhere;
    for (const auto& channel : day::moves_to(of))
        elsewhere.push_back(spectrum::from_mhz(channel.mhz()));
    question_.moving.emplace_back(question_.scene.transmitters.size() - 1, std::move(elsewhere));
}

std::optional<Refusal> PlanScene::keep(
    const google::protobuf::RepeatedPtrField<v1::NamePair>& pairs, bool together) {
    const auto known = transmitters(sheet_);
    for (const auto& pair : pairs) {
        std::vector<std::size_t> found;
        for (const auto& written : {pair.a(), pair.b()}) {
            const char* where = together ? "together" : "apart";
            const auto name = spelled(written, known);
            if (!name) return no_transmitter(where, written, known);
            const auto at = seat(*name);
            if (!at || !seats_[*at].is_planned)
                return Refusal{Refusal::Kind::conflict, where,
                               fmt::format("{} is not planned for", *name), "name both in --who"};
            found.push_back(*at);
        }
        if (found.front() == found.back())
            return Refusal{Refusal::Kind::malformed, together ? "together" : "apart",
                           fmt::format("{} is named twice", seats_[found.front()].name),
                           "two names each"};
        std::ranges::sort(found);
        const auto both = std::pair(found.front(), found.back());
        const auto& others = together ? question_.apart : question_.together;
        if (std::ranges::find(others, both) != others.end())
            return Refusal{Refusal::Kind::conflict, together ? "together" : "apart",
                           fmt::format("{} and {} are to be both apart and together",
                                       seats_[both.first].name, seats_[both.second].name),
                           "one of the two"};
        (together ? question_.together : question_.apart).push_back(both);
    }
    return std::nullopt;
}

const std::string& PlanScene::name(std::size_t transmitter) const {
    if (transmitter < seats_.size()) return seats_[transmitter].name;
    // Copies of those in every group come between.
    const auto copies = question_.in_every_group.size() * (question_.groups - 1);
    const auto at = transmitter - seats_.size();
    if (at >= copies) return beside_[at - copies];
    return seats_[question_.in_every_group[at / (question_.groups - 1)]].name;
}

std::optional<std::size_t> PlanScene::seat(const std::string& name) const {
    const auto found = std::ranges::find(seats_, name, &Seat::name);
    if (found == seats_.end()) return std::nullopt;
    return static_cast<std::size_t>(found - seats_.begin());
}

planner::Holds PlanScene::holds(const Tables& tables) const {
    planner::Holds holds;
    for (std::size_t t = 0; t < seats_.size(); ++t) {
        std::optional<Pick> pick;
        if (seats_[t].stays)
            pick = tables.pick(t, question_.allowed[t].channels.front(),
                               question_.allowed[t].powers.front());
        else if (seats_[t].held)
            pick = tables.pick(t, spectrum::from_mhz(seats_[t].held->channel().mhz()),
                               spectrum::Dbm(seats_[t].held->power_dbm()));
        if (pick && seats_[t].held)
            if (const auto in = flight(*seats_[t].held)) pick->group = *in;
        holds.push_back(pick);
    }
    for (const auto& [copy, original] : tables.question().copies) {
        holds.push_back(holds[original]);
        if (holds.back())
            holds.back()->group =
                static_cast<std::size_t>(std::countr_zero(tables.question().allowed[copy].groups));
    }
    return holds;
}

std::size_t PlanScene::number_of(const std::string& pilot) const {
    return static_cast<std::size_t>(std::ranges::find(sheet_.pilots(), pilot, &v1::Pilot::name) -
                                    sheet_.pilots().begin());
}

std::vector<planner::InRota> PlanScene::before() const {
    std::vector<planner::InRota> all;
    for (const auto& seat : seats_) {
        auto& before = all.emplace_back();
        if (!seat.is_planned) continue;
        if (seat.held) {
            before.channel = spectrum::from_mhz(seat.held->channel().mhz());
            before.group = seat.held->group();
        } else {
            before.group = day::holder(sheet_, seat.name)->last_group;
        }
        before.stays_in_it = seat.stays && before.group != 0;
    }
    return all;
}

std::vector<bool> PlanScene::heads() const {
    std::vector<bool> all(seats_.size(), false);
    std::set<std::string> counted;
    for (const bool own : {true, false})
        for (std::size_t t = 0; t < seats_.size(); ++t)
            if (seats_[t].is_planned && (seats_[t].name == seats_[t].owner) == own)
                all[t] = counted.insert(seats_[t].owner).second;
    return all;
}

std::vector<std::size_t> PlanScene::down() const {
    std::vector<std::size_t> owners;
    day::for_each_holder(sheet_, [&](const auto& one) {
        if (one.has_claim() && one.claim().stage() == v1::Claim::down)
            owners.push_back(number_of(day::holder(sheet_, one.name())->owner_name));
    });
    return owners;
}

v1::DaySheet PlanScene::planned_day(const Tables& tables, const Choice& choice,
                                    const std::vector<std::uint32_t>& numbers) const {
    auto day = sheet_;
    for (std::size_t t = 0; t < seats_.size(); ++t) {
        if (seats_[t].owner.empty()) continue;
        auto& claim = day::claim_of(day, day::holder(day, seats_[t].name)->id);
        if (in_groups_ && !seats_[t].is_planned) claim.set_group(0);  // it counts in all of them
        if (!seats_[t].is_planned) continue;
        if (in_groups_) claim.set_group(numbers[choice[t].group]);
        if (seats_[t].stays) continue;
        const auto frequency = tables.channel(choice[t]);
        for (const auto& channel : seats_[t].channels)
            if (spectrum::from_mhz(channel.mhz()) == frequency) *claim.mutable_channel() = channel;
        const auto& held = seats_[t].held;  // under the name that it is held by
        if (held && spectrum::from_mhz(held->channel().mhz()) == frequency)
            *claim.mutable_channel() = held->channel();
        claim.set_power_dbm(tables.power(t, choice[t]).count());
    }
    return day;
}

std::vector<v1::PlanChoice> PlanScene::choices(const v1::DaySheet& planned_day) const {
    std::map<std::uint32_t, std::map<std::string, v1::PilotResult>> by_group;
    std::optional<day::Flights> flights;
    const auto result = [&](std::uint32_t group, const std::string& owner) {
        if (group == 0 && !flights_.empty()) {  // where it is worst for them
            if (!flights) flights.emplace(planned_day, v1::Basis::held);
            const auto& pilot = *day::pilot(planned_day, owner);
            return day::pilot_result(flights->of(pilot).assessment, pilot);
        }
        auto [of_group, is_new] = by_group.try_emplace(group);
        if (is_new) {
            const auto seen = day::of_group(planned_day, group);
            const day::Assessment assessment(seen, v1::Basis::held);
            for (const auto& pilot : seen.pilots())
                of_group->second[pilot.name()] = day::pilot_result(assessment, pilot);
        }
        return of_group->second[owner];
    };
    std::vector<v1::PlanChoice> all;
    for (const auto& seat : seats_) {
        if (!seat.is_planned) continue;
        const auto& claim = *day::holder(planned_day, seat.name)->claim;
        auto& m = all.emplace_back();
        m.set_owner(seat.owner);
        m.set_transmitter(seat.name);
        m.set_channel(claim.channel().name());
        m.set_channel_mhz(claim.channel().mhz());
        m.set_power_dbm(day::milli(claim.power_dbm()));
        m.set_stays(seat.stays);
        m.set_group(claim.group());
        const auto own = result(claim.group(), seat.owner);
        m.set_verdict(own.verdict());
        if (own.has_margin_worst_db()) {
            m.set_margin_db(own.margin_worst_db());
            m.set_margin_ref_db(own.margin_ref_db());
        }
        if (!seat.held) continue;
        if (seat.held->channel().mhz() != claim.channel().mhz())
            *m.mutable_held() = seat.held->channel();
        if (std::abs(seat.held->power_dbm() - claim.power_dbm()) > 0.001)
            m.set_held_dbm(day::milli(seat.held->power_dbm()));
        if (seat.held->group() != 0 && seat.held->group() != claim.group())
            m.set_held_group(seat.held->group());
    }
    return all;
}

}  // namespace fieldpeg::planning
