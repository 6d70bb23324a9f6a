#include "server/day/relay_check.h"

#include "server/day/assessment.h"
#include "server/day/remarks.h"
#include "server/day/words.h"
#include "server/spectrum/exposure.h"
#include "server/spectrum/propagation.h"
#include "server/spectrum/relay_window.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <map>
#include <optional>
#include <set>
#include <tuple>

namespace fieldpeg::day {
namespace {

using spectrum::Dbm;
using spectrum::Decibel;
using spectrum::Geometry;

constexpr std::size_t channels_offered = 3;
constexpr double worth_saying_db = 1;

Result<v1::Claim> asked_claim(const v1::Relay& relay, const v1::RelayCheckQuery& query) {
    const auto& t = relay.transmitter();
    v1::Claim claim = relay.claim();
    if (query.has_channel()) {
        *claim.mutable_channel() = query.channel();
    } else if (!relay.has_claim()) {
        if (t.channels().empty())
            return Refusal{Refusal::Kind::malformed, relay.name(), "holds no channel",
                           "say which: --channel R3"};
        *claim.mutable_channel() = t.channels(0);
    }
    if (query.has_power_dbm()) {
        claim.set_power_dbm(query.power_dbm());
    } else if (!relay.has_claim()) {
        if (t.power_dbm().empty())
            return Refusal{Refusal::Kind::malformed, relay.name(), "holds no power",
                           "say which: --power 25mW"};
        claim.set_power_dbm(*std::ranges::min_element(t.power_dbm()));
    }
    claim.set_stage(v1::Claim::on_air);
    return claim;
}

/// One check: the day with the relay on as asked, and the same day without it.
class RelayCheck {
public:
    RelayCheck(const v1::DaySheet& sheet, const v1::Relay& relay, const v1::Claim& claim,
               v1::Basis::Kind basis)
        : with_sheet_(changed(sheet, relay.name(), &claim)),
          without_sheet_(changed(sheet, relay.name(), nullptr)),
          relay_(relay),
          claim_(claim),
          with_(with_sheet_, basis),
          without_(without_sheet_, basis),
          t_(*with_.situation().transmitter(relay.name())),
          ref_(spectrum::relay_window(scene(), with_.links(), t_, Geometry::ref)),
          worst_(spectrum::relay_window(scene(), with_.links(), t_, Geometry::worst)),
          harmed_(harmed_links(with_)) {}

    v1::RelayCheckReply reply() {
        v1::RelayCheckReply r;
        r.set_relay(relay_.name());
        r.set_owner(relay_.owner());
        *r.mutable_channel() = claim_.channel();
        r.mutable_channel()->set_mhz(milli(claim_.channel().mhz()));
        r.set_asked_dbm(milli(asked().count()));
        r.set_answer(answer());
        *r.mutable_ref() = message(ref_);
        *r.mutable_worst() = message(worst_);
        for (const auto& harmed : harmed_) *r.add_harmed() = harmed;
        if (r.answer() != v1::RelayCheckReply::fits) add_advice(r);
        const Dbm radiated = eirp(scene().transmitters[t_]);
        r.set_eirp_dbm(milli(radiated.count()));
        r.set_keep_away_m(milli(
            spectrum::exposure_distance(radiated, scene().transmitters[t_].frequency).count()));
        for (auto& remark : remarks(with_.situation(), t_, with_sheet_)) *r.add_remarks() = remark;
        add_cautions(r);
        r.set_sentence(sentence(r));
        return r;
    }

private:
    static v1::DaySheet changed(v1::DaySheet sheet, const std::string& relay,
                                const v1::Claim* claim) {
        for (auto& r : *sheet.mutable_relays()) {
            if (r.name() != relay) continue;
            if (claim)
                *r.mutable_claim() = *claim;
            else
                r.clear_claim();
        }
        return sheet;
    }

    const spectrum::Scene& scene() const { return with_.situation().scene; }
    Dbm asked() const { return Dbm(claim_.power_dbm()); }
    bool nobody_listens() const {
        return std::ranges::none_of(with_.situation().receivers, [&](const ReceiverOf& of) {
            return of.hears == relay_.name();
        });
    }
    bool none_can_tune() const {
        return !nobody_listens() && std::ranges::none_of(scene().receivers, [&](const auto& v) {
            return v.hears == t_;
        });
    }

    v1::RelayCheckReply::Answer answer() const {
        if (!ref_.ceiling) return v1::RelayCheckReply::no_window;
        if (!ref_.floor && !nobody_listens()) return v1::RelayCheckReply::no_window;
        if (ref_.floor && *ref_.floor > *ref_.ceiling) return v1::RelayCheckReply::no_window;
        if (asked() > *ref_.ceiling || !harmed_.empty()) return v1::RelayCheckReply::too_strong;
        if (ref_.floor && asked() < *ref_.floor) return v1::RelayCheckReply::too_weak;
        return v1::RelayCheckReply::fits;
    }

    v1::PowerWindow message(const spectrum::PowerWindow& w) const {
        v1::PowerWindow m;
        if (w.floor) m.set_floor_dbm(milli(w.floor->count()));
        if (w.ceiling) m.set_ceiling_dbm(milli(w.ceiling->count()));
        if (w.limited_by) {
            auto* limit = m.mutable_limited_by();
            limit->set_kind(kind(w.limited_by->kind));
            if (w.limited_by->receiver) {
                limit->set_owner(receiver(*w.limited_by->receiver).owner);
                limit->set_receiver(receiver(*w.limited_by->receiver).name);
                limit->set_relay(receiver(*w.limited_by->receiver).relay);
            }
        }
        for (const auto v : w.below_before) {
            auto* below = m.add_below_before();
            below->set_owner(receiver(v).owner);
            below->set_receiver(receiver(v).name);
        }
        m.set_reason(window_reason(w));
        return m;
    }

    std::string window_reason(const spectrum::PowerWindow& w) const {
        std::vector<std::string> parts;
        if (nobody_listens())
            parts.emplace_back("nobody of this day hears the relay, so there is no floor");
        else if (none_can_tune())
            parts.push_back(
                fmt::format("its goggles cannot be tuned to {}", channel_text(claim_.channel())));
        else if (!w.floor)
            parts.push_back(fmt::format("not sharp at its owner's even with {}",
                                        power_text(spectrum::relay_power_max.count())));
        if (!w.ceiling && w.limited_by && w.limited_by->receiver)
            parts.push_back(fmt::format("{} suffers even from {}, {}",
                                        receiver(*w.limited_by->receiver).owner,
                                        power_text(spectrum::relay_power_min.count()),
                                        "through " + through_text(kind(w.limited_by->kind))));
        if (w.floor && w.ceiling && *w.floor > *w.ceiling)
            parts.push_back(
                fmt::format("its owner needs {:.1f} dB more than the neighbours can take",
                            (*w.floor - *w.ceiling).count()));
        return fmt::format("{}", fmt::join(parts, "; "));
    }

    const ReceiverOf& receiver(std::size_t v) const { return with_.situation().receivers[v]; }

    /// The receiver of a link that shows its picture, and how the link stands.
    struct Shown {
        std::size_t receiver;
        spectrum::Standing standing;
    };
    static std::optional<Shown> shown(const Assessment& a, const std::vector<std::size_t>& link) {
        std::optional<Shown> best;
        for (const auto v : link)
            if (const auto s = a.standing(v); s && (!best || s->ref > best->standing.ref))
                best = Shown{v, *s};
        return best;
    }

    /// Who is harmed by the relay as `with` has it, against the day without it.
    std::vector<v1::Harmed> harmed_links(const Assessment& with) const {
        std::map<std::tuple<std::string, std::string, std::string>, std::vector<std::size_t>> links;
        for (std::size_t v = 0; v < scene().receivers.size(); ++v)
            if (scene().receivers[v].hears != t_)
                links[{receiver(v).owner, receiver(v).relay, receiver(v).hears}].push_back(v);
        std::vector<v1::Harmed> list;
        for (const auto& [key, link] : links) {
            const auto before = shown(without_, link);
            const auto after = shown(with, link);
            if (!before || !after || !spectrum::harms(before->standing, after->standing)) continue;
            v1::Harmed h;
            h.set_owner(receiver(after->receiver).owner);
            h.set_receiver(receiver(after->receiver).name);
            h.set_margin_before_db(milli(before->standing.ref.count()));
            h.set_margin_after_db(milli(after->standing.ref.count()));
            h.set_before(word(spectrum::verdict(before->standing)));
            h.set_after(word(spectrum::verdict(after->standing)));
            h.set_through(with.trouble(after->receiver));
            h.set_relay(receiver(after->receiver).relay);
            list.push_back(std::move(h));
        }
        std::ranges::stable_sort(list, {}, &v1::Harmed::margin_after_db);
        return list;
    }

    /// Whether somebody would be harmed with another claim, or from another place.
    bool harms_with(const v1::Claim& claim) const {
        return harms_on(changed(with_sheet_, relay_.name(), &claim));
    }
    bool harms_on(const v1::DaySheet& sheet) const {
        return !harmed_links(Assessment(sheet, with_.basis())).empty();
    }
    bool harms_at(double power_dbm) const {
        auto claim = claim_;
        claim.set_power_dbm(power_dbm);
        return harms_with(claim);
    }
    bool harms_on_channel(const v1::Channel& channel, double power_dbm) const {
        auto claim = claim_;
        *claim.mutable_channel() = channel;
        claim.set_power_dbm(power_dbm);
        return harms_with(claim);
    }
    /// The relay alone is moved; its receivers stay where they are.
    bool harms_at(const spectrum::Point& point) const {
        auto sheet = with_sheet_;
        auto* place = sheet.mutable_field()->add_places();
        place->set_name("moved to");
        place->set_east_m(point.x_m);
        place->set_north_m(point.y_m);
        place->set_height_m(point.z_m);
        for (auto& relay : *sheet.mutable_relays()) {
            if (relay.name() != relay_.name()) continue;
            for (auto& v : *relay.mutable_receivers())
                if (v.place().empty()) v.set_place(relay.place());
            relay.set_place(place->name());
        }
        return harms_on(sheet);
    }

    void add_advice(v1::RelayCheckReply& r) {
        advise_power(r);
        if (r.answer() == v1::RelayCheckReply::too_weak) return;
        advise_channel(r);
        advise_distance(r);
        advise_hand(r);
    }

    /// The window that both geometries leave, if they leave one.
    struct Span {
        double low, high;
    };
    std::optional<Span> window() const {
        if (!ref_.ceiling || (!ref_.floor && !nobody_listens())) return std::nullopt;
        const double low = ref_.floor.value_or(spectrum::relay_power_min).count();
        const double high = ref_.ceiling->count();
        if (low > high) return std::nullopt;
        const double worst = worst_.ceiling ? worst_.ceiling->count() : high;
        return Span{low, worst >= low ? std::min(high, worst) : high};
    }

    /// The lowest step that is enough for its owner and harms nobody.
    void advise_power(v1::RelayCheckReply& r) const {
        auto steps = relay_.transmitter().power_dbm();
        std::ranges::sort(steps);
        const auto span = window();
        if (!span) return;
        for (const double step : steps) {
            if (step < span->low || step > span->high || harms_at(step)) continue;
            auto* advice = r.add_advice();
            advice->set_kind(v1::RelayAdvice::set_power);
            advice->set_power_dbm(milli(step));
            advice->set_text("set " + power_text(step));
            return;
        }
        if (steps.empty()) {
            advise_span(r, *span);
            return;
        }
        if (steps[0] > span->high) advise_attenuator(r, steps[0], *span);
        if (steps[steps.size() - 1] < span->low)
            r.add_cautions(fmt::format("its highest step {} is {:.1f} dB too weak for its owner",
                                       power_text(steps[steps.size() - 1]),
                                       span->low - steps[steps.size() - 1]));
    }

    /// Between the least its owner needs and the most that harms nobody, those included who are too
    /// far as it is.
    void advise_span(v1::RelayCheckReply& r, const Span& span) const {
        constexpr double fine_db = 0.05;
        if (harms_at(span.low)) return;
        double low = span.low, high = span.high;
        if (harms_at(high)) {
            while (high - low > fine_db) {
                const double middle = (low + high) / 2;
                (harms_at(middle) ? high : low) = middle;
            }
            high = low;
        }
        auto* advice = r.add_advice();
        advice->set_kind(v1::RelayAdvice::set_power);
        advice->set_power_dbm(milli(span.low));
        advice->set_text(fmt::format("between {} and {}", power_text(span.low), power_text(high)));
    }

    static void advise_attenuator(v1::RelayCheckReply& r, double lowest_step, const Span& span) {
        const double over = lowest_step - span.high;
        const double attenuator = std::ceil(over);
        auto* advice = r.add_advice();
        advice->set_kind(v1::RelayAdvice::add_attenuator);
        advice->set_power_dbm(milli(lowest_step));
        advice->set_attenuator_db(attenuator);
        advice->set_text(fmt::format(
            "{} through an attenuator of {:.0f} dB: its lowest step is {:.1f} dB too strong{}",
            power_text(lowest_step), attenuator, over,
            lowest_step - attenuator < span.low ? ", though its owner then lacks some" : ""));
    }

    /// The scene with the relay on another channel of its band, its goggles tuned to it.
    spectrum::Scene on_channel(const v1::Channel& channel) const {
        auto moved = scene();
        moved.transmitters[t_].frequency = spectrum::from_mhz(channel.mhz());
        for (std::size_t v = 0; v < moved.receivers.size(); ++v)
            if (receiver(v).hears == relay_.name())
                moved.receivers[v].hears =
                    can_tune(*receiver(v).gear, channel) ? std::optional(t_) : std::nullopt;
        return moved;
    }

    /// The channels on which the asked power harms nobody, those with most room first; if there are
    /// none, those that have a window at all.
    void advise_channel(v1::RelayCheckReply& r) const {
        struct Candidate {
            v1::Channel channel;
            double margin;
        };
        std::vector<Candidate> candidates;
        for (const auto& channel : channels_to_try()) {
            const auto least = spectrum::least_neighbour_margin(on_channel(channel), with_.links(),
                                                                t_, Geometry::ref);
            candidates.push_back({channel, least ? least->count() : 99});
        }
        std::ranges::stable_sort(candidates, std::greater<>{}, &Candidate::margin);
        std::size_t offered = 0;
        for (const auto& [channel, margin] : candidates) {
            if (offered == channels_offered || (offered > 0 && margin < 0)) break;
            auto window =
                spectrum::relay_window(on_channel(channel), with_.links(), t_, Geometry::ref);
            if (nobody_listens()) window.floor = spectrum::relay_power_min;
            if (!window.is_open()) continue;
            const bool as_asked = *window.floor <= asked() && asked() <= *window.ceiling;
            const Dbm most = as_asked ? asked() : *window.ceiling;
            if (harms_on_channel(channel, most.count())) continue;
            ++offered;
            auto* advice = r.add_advice();
            advice->set_kind(v1::RelayAdvice::change_channel);
            *advice->mutable_channel() = channel;
            if (ref_.ceiling)
                advice->set_gained_db(milli((*window.ceiling - *ref_.ceiling).count()));
            advice->set_text(as_asked
                                 ? fmt::format("{} on {} disturbs nobody",
                                               power_text(asked().count()), channel_text(channel))
                                 : fmt::format("{} with {} to {}", channel_text(channel),
                                               power_text(window.floor->count()),
                                               power_text(window.ceiling->count())));
        }
    }

    /// What the relay can be tuned to, its goggles too; if nothing is said, the rows' channels of
    /// its band. Channels on which the rule set or a service has something to remark are left out.
    std::vector<v1::Channel> channels_to_try() const {
        std::vector<v1::Channel> list(relay_.transmitter().channels().begin(),
                                      relay_.transmitter().channels().end());
        const auto band = [](double mhz) {
            return spectrum::band_reference(spectrum::from_mhz(mhz));
        };
        if (list.empty())
            for (const auto& row : with_sheet_.rows())
                for (const auto& channel : row.channels())
                    if (band(channel.mhz()) == band(claim_.channel().mhz()))
                        list.push_back(channel);
        std::set<double> seen = {claim_.channel().mhz()};
        const auto emission = std::ranges::find(
            with_sheet_.emissions(), relay_.transmitter().emission(), &v1::Emission::name);
        std::erase_if(list, [&](const v1::Channel& c) {
            return !seen.insert(c.mhz()).second || !goggles_tune(c) ||
                   !remarks(Occupied{c, emission->occupied_mhz(), std::nullopt},
                            with_sheet_.has_rules() ? &with_sheet_.rules() : nullptr,
                            with_sheet_.services())
                        .empty();
        });
        return list;
    }

    bool goggles_tune(const v1::Channel& channel) const {
        return nobody_listens() ||
               std::ranges::any_of(with_.situation().receivers, [&](const ReceiverOf& of) {
                   return of.hears == relay_.name() && can_tune(*of.gear, channel);
               });
    }

    void advise_distance(v1::RelayCheckReply& r) const {
        const auto move = spectrum::bench_advice(scene(), with_.links(), t_);
        if (!move.harmed_first || !move.step_back) return;
        const auto& first = receiver(*move.harmed_first);
        auto moved = scene();
        auto& at = std::get<spectrum::Point>(moved.transmitters[t_].at);
        at = spectrum::moved_away(at, scene().receivers[*move.harmed_first].at, *move.step_back);
        if (harms_at(at)) return;
        const auto window = spectrum::relay_window(moved, t_, Geometry::ref);
        const bool still_sharp = !window.floor || *window.floor <= asked();
        auto* advice = r.add_advice();
        advice->set_kind(v1::RelayAdvice::move_away);
        advice->set_metres(milli(move.step_back->count()));
        advice->set_text(fmt::format("at {}, {:.0f} m farther away from {}{}",
                                     power_text(asked().count()),
                                     std::ceil(move.step_back->count()), first.owner,
                                     still_sharp ? "" : ", though its owner then lacks some"));
    }

    /// The other hand, or plane, at both ends of the relay's own link.
    void advise_hand(v1::RelayCheckReply& r) const {
        const auto turned = [](spectrum::Polarisation p) {
            switch (p) {
                case spectrum::Polarisation::rhcp:
                    return spectrum::Polarisation::lhcp;
                case spectrum::Polarisation::lhcp:
                    return spectrum::Polarisation::rhcp;
                case spectrum::Polarisation::vertical:
                    return spectrum::Polarisation::horizontal;
                case spectrum::Polarisation::horizontal:
                    break;
            }
            return spectrum::Polarisation::vertical;
        };
        auto other = scene();
        auto& mine = other.transmitters[t_].antenna;
        mine.polarisation = turned(mine.polarisation);
        for (auto& v : other.receivers)
            if (v.hears == t_) v.antenna.polarisation = turned(v.antenna.polarisation);
        spectrum::LinkTable links = with_.links();
        links.update(other, t_);
        const auto window = spectrum::relay_window(other, links, t_, Geometry::ref);
        if (!window.ceiling) return;
        const double before = ref_.ceiling.value_or(spectrum::relay_power_min).count();
        const double gained = window.ceiling->count() - before;
        if (gained < worth_saying_db) return;
        auto* advice = r.add_advice();
        advice->set_kind(v1::RelayAdvice::change_hand);
        advice->set_gained_db(milli(gained));
        advice->set_power_dbm(milli(window.ceiling->count()));
        advice->set_text(
            fmt::format("the other {} on the relay and on its owner's goggles: the neighbours can "
                        "take {:.0f} dB more",
                        spectrum::is_linear(mine.polarisation) ? "plane" : "hand", gained));
    }

    void add_cautions(v1::RelayCheckReply& r) const {
        if (ref_.ceiling && asked() <= *ref_.ceiling && (*ref_.ceiling - asked()).count() < edge_db)
            r.add_cautions("within 1 dB of the most the neighbours can take");
        if (ref_.floor && asked() >= *ref_.floor && (asked() - *ref_.floor).count() < edge_db)
            r.add_cautions("within 1 dB of the least its owner needs");
        if (worst_.ceiling && ref_.ceiling && asked() <= *ref_.ceiling && asked() > *worst_.ceiling)
            r.add_cautions("short drop-outs for a neighbour when somebody passes close");
        for (const auto v : ref_.below_before)
            r.add_cautions(fmt::format("{}, {}: no margin even with the relay off",
                                       receiver(v).owner, receiver(v).name));
        for (const auto& caution : cautions(with_.situation(), with_sheet_))
            if (caution.concerns.contains(relay_.owner())) r.add_cautions(caution.text);
        add_not_settable(r);
    }

    /// A question may go beyond what the relay can be set to; the answer says so.
    void add_not_settable(v1::RelayCheckReply& r) const {
        constexpr double same_power_db = 0.05;
        const auto& t = relay_.transmitter();
        const bool settable =
            t.power_dbm().empty() || std::ranges::any_of(t.power_dbm(), [&](double step) {
                return std::abs(step - asked().count()) <= same_power_db;
            });
        const bool tunable =
            t.channels().empty() || std::ranges::find(t.channels(), claim_.channel().mhz(),
                                                      &v1::Channel::mhz) != t.channels().end();
        if (!settable)
            r.add_cautions(fmt::format("{} is none of the powers that it can be set to",
                                       power_text(asked().count())));
        if (!tunable)
            r.add_cautions(
                fmt::format("{} is none of its channels", channel_text(claim_.channel())));
    }

    std::string sentence(const v1::RelayCheckReply& r) const {
        const auto what = fmt::format("{}: {} on {} at {}", relay_.owner(), relay_.name(),
                                      channel_text(claim_.channel()), power_text(asked().count()));
        const auto first = r.advice().empty() ? std::string() : ". Instead: " + r.advice(0).text();
        if (!r.harmed().empty()) {
            const bool self = r.harmed(0).owner() == relay_.owner();
            return fmt::format("{}: not like this, {} loses the picture{}", what,
                               self ? "your own " + r.harmed(0).receiver() : r.harmed(0).owner(),
                               first);
        }
        const bool own =
            ref_.limited_by && ref_.limited_by->kind == spectrum::PowerLimit::Kind::too_close;
        switch (r.answer()) {
            case v1::RelayCheckReply::fits:
                return what + " disturbs nobody" +
                       (nobody_listens() ? "" : " and is enough for its owner") +
                       (r.remarks().empty() ? "" : "; mind the remarks");
            case v1::RelayCheckReply::too_weak:
                return fmt::format("{} is too weak for its owner{}", what, first);
            case v1::RelayCheckReply::too_strong:
                return fmt::format("{} is too strong{}{}", what, own ? " for its own goggles" : "",
                                   first);
            default:
                break;
        }
        return fmt::format("{}: no power suits both its owner and the neighbours{}", what, first);
    }

    v1::DaySheet with_sheet_, without_sheet_;
    const v1::Relay& relay_;
    const v1::Claim& claim_;
    Assessment with_, without_;
    std::size_t t_;
    spectrum::PowerWindow ref_, worst_;
    std::vector<v1::Harmed> harmed_;
};

}  // namespace

Result<v1::RelayCheckReply> relay_check(const v1::DaySheet& sheet,
                                        const v1::RelayCheckQuery& query) {
    const auto relay = std::ranges::find(sheet.relays(), query.relay(), &v1::Relay::name);
    if (relay == sheet.relays().end())
        return Refusal{Refusal::Kind::not_found, "relay",
                       "no relay is called '" + query.relay() + "'"};
    const auto claim = asked_claim(*relay, query);
    if (!claim) return claim.error();
    const auto basis = query.basis() == v1::Basis::unknown ? v1::Basis::held : query.basis();
    return RelayCheck(sheet, *relay, *claim, basis).reply();
}

}  // namespace fieldpeg::day
