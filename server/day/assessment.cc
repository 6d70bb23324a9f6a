#include "server/day/assessment.h"

#include "server/day/remarks.h"
#include "server/day/words.h"
#include "server/spectrum/reach.h"
#include "server/spectrum/relay_window.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <optional>
#include <set>
#include <utility>

namespace fieldpeg::day {
namespace {

using spectrum::Demand;
using spectrum::Geometry;

constexpr std::size_t blockers_named = 3;

/// What a disturbance does, as the sentence that a verdict comes with.
std::string disturbance_text(const Situation& situation, const spectrum::Contribution& c) {
    const auto who = [&](std::size_t t) {
        const auto& of = situation.transmitters[t];
        return fmt::format("{} on {}", of.name, of.channel.name());
    };
    switch (c.kind) {
        case spectrum::Contribution::Kind::co_channel:
            return fmt::format("{} is on the same channel", who(c.from[0]));
        case spectrum::Contribution::Kind::adjacent:
            return fmt::format("{} leaks across", who(c.from[0]));
        case spectrum::Contribution::Kind::receiver_product:
            return fmt::format("the product of {} and {}{} at {} MHz", who(c.from[0]),
                               who(c.from[1]), c.from.size() > 2 ? " and " + who(c.from[2]) : "",
                               mhz_text(spectrum::mhz(*c.product)));
        case spectrum::Contribution::Kind::transmitter_product:
            break;
    }
    return fmt::format("{} mixes with {} in its transmitter, product at {} MHz", who(c.from[1]),
                       who(c.from[0]), mhz_text(spectrum::mhz(*c.product)));
}

std::string why_no_picture(const Assessment& a, const ReceiverOf& of) {
    if (const auto heard = a.situation().transmitter(of.hears))
        return of.can_tune ? fmt::format("{} is on the bench", of.hears)
                           : fmt::format("cannot be tuned to {}",
                                         channel_text(a.situation().transmitters[*heard].channel));
    const auto holds = [&](const auto& list) {
        return std::ranges::any_of(
            list, [&](const auto& one) { return one.name() == of.hears && one.has_claim(); });
    };
    if (holds(a.sheet().pilots()) || holds(a.sheet().relays()))
        return fmt::format("{} is not on the air", of.hears);
    return fmt::format("{} holds no channel", of.hears);
}

std::string front_end_text(const Assessment& a, std::size_t v) {
    const auto signals =
        spectrum::front_end_signals(a.situation().scene, a.links(), v, Geometry::ref, 1);
    const auto& of = a.situation().transmitters[signals.front().transmitter];
    return fmt::format("{} on {} ({:.1f} dBm at its front end)", of.name, of.channel.name(),
                       signals.front().level.count());
}

/// One sentence: what rules a receiver's margin. `strongest` is its strongest term, if any.
std::string reason(const Assessment& a, std::size_t v,
                   const std::optional<spectrum::Contribution>& strongest) {
    const auto& of = a.situation().receivers[v];
    if (!a.budgets(v)) return why_no_picture(a, of);
    const auto& profile = a.profile(v);
    const auto& budget = (*a.budgets(v))[0];
    const auto& heard = a.situation().scene.transmitters[*a.situation().scene.receivers[v].hears];
    if (heard.frequency < profile.front_end_low || heard.frequency > profile.front_end_high)
        return "its channel lies outside the band of the receiver";
    const auto verdict = spectrum::verdict(a.standing(v));
    if (verdict == spectrum::Verdict::too_far)
        return "the area is larger than power and antennas reach";
    const auto m = spectrum::margins(budget, profile, Demand::watchable);
    if (m.closeness < spectrum::Decibel(0)) return "too close to its own transmitter";
    const bool in_trouble =
        verdict == spectrum::Verdict::shaky || verdict == spectrum::Verdict::clash;
    const bool felt = budget.desensitisation > spectrum::Decibel(1);
    if (spectrum::is_swamped(budget, profile) && (in_trouble || felt))
        return (in_trouble ? "swamped by " : "weakened by ") + front_end_text(a, v);
    const bool quiet = budget.interference_mw() < spectrum::milliwatts(budget.noise) / 4;
    if (!strongest || (quiet && !in_trouble)) return "noise and range";
    return disturbance_text(a.situation(), *strongest);
}

void add_reach(const Assessment& a, std::size_t v, v1::CheckReply& reply) {
    const auto standing = a.standing(v);
    const auto& scene = a.situation().scene;
    const auto& receiver = scene.receivers[v];
    if (!standing || verdict(*standing) != spectrum::Verdict::too_far) return;
    const auto& transmitter = scene.transmitters[*receiver.hears];
    auto* entry = reply.add_too_far();
    entry->set_owner(a.situation().receivers[v].owner);
    entry->set_receiver(a.situation().receivers[v].name);
    entry->set_lacking_db(milli(-standing->alone.count()));
    const double others = (standing->alone - standing->ref).count();
    if (others > 0) entry->set_others_db(milli(others));
    std::string text = fmt::format("{:.1f} dB short at the far rim", -standing->alone.count());
    if (std::holds_alternative<spectrum::Envelope>(transmitter.at)) {
        constexpr double nearly = 0.97;  // then it is not distance that is lacking
        const auto reach = spectrum::reach(transmitter, receiver, a.profile(v));
        if (reach.picture.count() < nearly * reach.rim.count())
            text += fmt::format("; the picture reaches about {:.0f} of {:.0f} m",
                                reach.picture.count(), reach.rim.count());
    }
    if (others >= 0.05) text += fmt::format("; others cost {:.1f} dB on top", others);
    entry->set_text(text);
}

std::string bench_text(const TransmitterOf& who, const v1::BenchAdvice& b) {
    constexpr double step_m = 0.8, sensible_m = 100, sensible_dbm = -20;
    std::string help;
    if (b.has_power_max_dbm() && b.power_max_dbm() >= sensible_dbm)
        help = fmt::format("pit mode of at most {}", power_text(b.power_max_dbm()));
    if (b.has_step_back_m() && b.step_back_m() <= sensible_m)
        help += fmt::format("{}{:.0f} m back ({:.0f} steps)", help.empty() ? "" : ", or ",
                            std::ceil(b.step_back_m()), std::ceil(b.step_back_m() / step_m));
    if (help.empty())
        help = fmt::format("unplug, take another channel, or wait until {} has landed",
                           b.harms_owner());
    return fmt::format("{} on the bench on {} at {} breaks {}'s picture: {}", who.name,
                       channel_text(who.channel), power_text(b.power_dbm()), b.harms_owner(), help);
}

void add_bench(const Assessment& a, std::size_t t, v1::CheckReply& reply) {
    const auto& who = a.situation().transmitters[t];
    if (who.stage != v1::Claim::bench) return;
    // Each against a day without the others on the bench: two who break one picture both hear it.
    auto scene = a.situation().scene;
    for (std::size_t other = 0; other < scene.transmitters.size(); ++other)
        if (other != t && a.situation().transmitters[other].stage == v1::Claim::bench)
            scene.transmitters[other].power = spectrum::switched_off;
    const auto advice = spectrum::bench_advice(scene, a.links(), t);
    if (!advice.harmed_first) return;
    const auto& harmed = a.situation().receivers[*advice.harmed_first];
    auto* entry = reply.add_bench();
    entry->set_owner(who.owner);
    entry->set_transmitter(who.name);
    entry->set_power_dbm(milli(a.situation().scene.transmitters[t].power.count()));
    entry->set_harms_owner(harmed.owner);
    entry->set_harms_receiver(harmed.name);
    if (advice.power_max) entry->set_power_max_dbm(milli(advice.power_max->count()));
    if (advice.step_back) entry->set_step_back_m(milli(advice.step_back->count()));
    entry->set_text(bench_text(who, *entry));
}

v1::Budget budget_message(const Assessment& a, std::size_t v, Geometry geometry,
                          std::size_t contributions) {
    const auto& budget = (*a.budgets(v))[static_cast<std::size_t>(geometry)];
    const auto watchable = spectrum::margins(budget, a.profile(v), Demand::watchable);
    v1::Budget m;
    m.set_wanted_dbm(milli(budget.wanted.count()));
    m.set_wanted_strongest_dbm(milli(budget.wanted_strongest.count()));
    m.set_noise_dbm(milli(budget.noise.count()));
    if (budget.interference_mw() > 0)
        m.set_interference_dbm(milli(spectrum::dbm(budget.interference_mw()).count()));
    if (budget.blockers) m.set_blocker_dbm(milli(budget.blockers->count()));
    m.set_desensitisation_db(milli(budget.desensitisation.count()));
    m.set_cni_db(milli((watchable.noise_and_interference + a.profile(v).watchable).count()));
    m.set_noise_and_interference_margin_db(milli(watchable.noise_and_interference.count()));
    if (watchable.swamping) m.set_swamping_margin_db(milli(watchable.swamping->count()));
    m.set_closeness_margin_db(milli(watchable.closeness.count()));
    m.set_margin_db(milli(watchable.least.count()));
    m.set_sharp_margin_db(
        milli(spectrum::margins(budget, a.profile(v), Demand::sharp).least.count()));
    for (const auto& c : a.contributions(v, geometry, contributions))
        *m.add_contributions() = message(a.situation(), c);
    return m;
}

v1::ReceiverExplained receiver_explained(const Assessment& a, std::size_t v,
                                         std::size_t contributions) {
    v1::ReceiverExplained e;
    const auto& scene = a.situation().scene;
    const auto& receiver = scene.receivers[v];
    *e.mutable_result() = receiver_result(a, v, contributions);
    e.set_hears(a.situation().receivers[v].hears);
    e.set_required_watchable_db(milli(a.profile(v).watchable.count()));
    e.set_required_sharp_db(milli(a.profile(v).sharp.count()));
    if (!receiver.hears) return e;

    const auto& heard = scene.transmitters[*receiver.hears];
    const auto fade = std::holds_alternative<spectrum::Envelope>(heard.at)
                          ? spectrum::fade_wanted_air
                          : spectrum::fade_wanted_ground;
    e.set_sent_dbm(milli(heard.power.count()));
    e.set_fade_db(milli(fade.count()));
    e.set_link_gain_db(milli((spectrum::wanted_gain(heard, receiver) + fade).count()));
    *e.mutable_ref() = budget_message(a, v, Geometry::ref, contributions);
    *e.mutable_worst() = budget_message(a, v, Geometry::worst, contributions);
    e.set_alone_margin_db(milli(a.standing(v)->alone.count()));
    for (const auto& f : spectrum::fifth_order(scene, v, contributions)) {
        auto* entry = e.add_fifth_order();
        entry->add_from(a.situation().transmitters[f.a].name);
        entry->add_from(a.situation().transmitters[f.b].name);
        entry->set_product_mhz(milli(spectrum::mhz(f.product)));
        entry->set_offset_mhz(milli(spectrum::mhz(f.offset)));
    }
    return e;
}

template <class List>
void add_assumptions(const List& gear, const std::set<std::string>& used, v1::ExplainReply& reply) {
    for (const auto& one : gear) {
        if (!used.contains(one.name())) continue;
        for (const auto& p : one.provenance()) {
            if (p.kind() != v1::Provenance::assumed) continue;
            auto* entry = reply.add_assumptions();
            entry->set_gear(one.name());
            entry->set_key(p.key());
            entry->set_kind(p.kind());
            entry->set_source(p.source());
        }
    }
}

/// The gear of every link that leads to a pilot.
void add_gear_of(const Assessment& a, const v1::Pilot& pilot, v1::ExplainReply& reply) {
    std::set<std::string> emissions, receivers, antennas;
    for (const auto& of : a.situation().receivers) {
        if (of.owner != pilot.name()) continue;
        receivers.insert(of.gear->receiver());
        antennas.insert(of.gear->mounting().antenna());
    }
    for (const auto& of : a.situation().transmitters) {
        if (of.owner != pilot.name()) continue;
        emissions.insert(of.gear->emission());
        antennas.insert(of.gear->mounting().antenna());
    }
    add_assumptions(a.sheet().emissions(), emissions, reply);
    add_assumptions(a.sheet().receiver_profiles(), receivers, reply);
    add_assumptions(a.sheet().antennas(), antennas, reply);
}

}  // namespace

Assessment::Assessment(const v1::DaySheet& sheet, v1::Basis::Kind basis)
    : sheet_(sheet),
      basis_(basis),
      situation_(day::situation(sheet, basis)),
      links_(situation_.scene),
      tables_(situation_.scene),
      budgets_(spectrum::assess(situation_.scene, links_, tables_)) {}

Assessment::Assessment(const v1::DaySheet& sheet, v1::Basis::Kind basis, spectrum::LinkTable links,
                       std::string_view moved)
    : sheet_(sheet),
      basis_(basis),
      situation_(day::situation(sheet, basis)),
      links_(std::move(links)),
      tables_(situation_.scene) {
    if (const auto t = situation_.transmitter(moved)) links_.update(situation_.scene, *t);
    budgets_ = spectrum::assess(situation_.scene, links_, tables_);
}

const spectrum::ReceiverProfile& Assessment::profile(std::size_t receiver) const {
    return situation_.scene.profiles[situation_.scene.receivers[receiver].profile];
}

std::optional<spectrum::Standing> Assessment::standing(std::size_t receiver) const {
    if (!budgets_[receiver]) return std::nullopt;
    return spectrum::standing(*budgets_[receiver], profile(receiver));
}

/// The best of the receivers that one person or relay has for one transmitter.
std::optional<spectrum::Standing> Assessment::link(std::string_view owner, std::string_view relay,
                                                   std::string_view hears) const {
    std::vector<spectrum::Standing> all;
    for (std::size_t v = 0; v < situation_.receivers.size(); ++v) {
        const auto& of = situation_.receivers[v];
        if (of.owner != owner || of.relay != relay || of.hears != hears) continue;
        if (const auto s = standing(v)) all.push_back(*s);
    }
    if (all.empty()) return std::nullopt;
    return spectrum::best_of(all);
}

std::optional<spectrum::Standing> Assessment::standing(const v1::Pilot& pilot) const {
    std::set<std::string> heard;
    for (const auto& of : situation_.receivers)
        if (of.owner == pilot.name() && of.relay.empty()) heard.insert(of.hears);

    std::vector<spectrum::Standing> chains;
    for (const auto& source : heard) {
        const auto last = link(pilot.name(), "", source);
        if (!last) continue;
        const auto relay = std::ranges::find(sheet_.relays(), source, &v1::Relay::name);
        if (relay == sheet_.relays().end() || relay->receivers().empty()) {
            chains.push_back(*last);
        } else if (const auto first = link(pilot.name(), relay->name(), pilot.name())) {
            chains.push_back(spectrum::least_of(std::vector{*first, *last}));
        }
    }
    if (chains.empty()) return std::nullopt;
    return spectrum::best_of(chains);
}

v1::PowerWindow::Kind Assessment::trouble(std::size_t receiver) const {
    if (spectrum::is_swamped((*budgets_[receiver])[0], profile(receiver)))
        return v1::PowerWindow::swamped;
    const auto terms = contributions(receiver, Geometry::ref, 1);
    if (terms.empty()) return v1::PowerWindow::noise;
    switch (terms.front().kind) {
        case spectrum::Contribution::Kind::co_channel:
            return v1::PowerWindow::co_channel;
        case spectrum::Contribution::Kind::adjacent:
            return v1::PowerWindow::adjacent;
        case spectrum::Contribution::Kind::receiver_product:
            return v1::PowerWindow::receiver_product;
        case spectrum::Contribution::Kind::transmitter_product:
            break;
    }
    return v1::PowerWindow::transmitter_product;
}

std::vector<spectrum::Contribution> Assessment::contributions(std::size_t receiver,
                                                              Geometry geometry,
                                                              std::size_t most) const {
    return spectrum::contributions(situation_.scene, links_, tables_, receiver, geometry, most);
}

v1::Contribution message(const Situation& situation, const spectrum::Contribution& contribution) {
    v1::Contribution m;
    m.set_kind(kind(contribution.kind));
    for (const auto t : contribution.from) {
        m.add_from(situation.transmitters[t].name);
        m.add_from_mhz(milli(situation.transmitters[t].channel.mhz()));
    }
    if (contribution.product) m.set_product_mhz(milli(spectrum::mhz(*contribution.product)));
    m.set_level_dbm(milli(contribution.level.count()));
    return m;
}

v1::ReceiverResult receiver_result(const Assessment& a, std::size_t v, std::size_t contributions) {
    const auto& of = a.situation().receivers[v];
    v1::ReceiverResult r;
    r.set_owner(of.owner);
    r.set_receiver(of.name);
    r.set_relay(of.relay);
    r.set_hears(of.hears);
    if (const auto heard = a.situation().transmitter(of.hears)) {
        const auto& channel = a.situation().transmitters[*heard].channel;
        r.set_channel(channel.name());
        r.set_channel_mhz(milli(channel.mhz()));
        r.set_sent_dbm(milli(a.situation().scene.transmitters[*heard].power.count()));
    }
    const auto standing = a.standing(v);
    r.set_verdict(word(spectrum::verdict(standing)));
    r.set_picture(grade(spectrum::picture(standing)));
    if (!standing) {
        r.set_reason(reason(a, v, std::nullopt));
        return r;
    }
    const auto terms = a.contributions(v, Geometry::ref, std::max<std::size_t>(contributions, 1));
    r.set_reason(reason(a, v, terms.empty() ? std::nullopt : std::optional(terms.front())));

    const auto& ref = (*a.budgets(v))[0];
    r.set_margin_ref_db(milli(standing->ref.count()));
    r.set_margin_worst_db(milli(standing->reported_worst().count()));
    r.set_wanted_dbm(milli(ref.wanted.count()));
    r.set_noise_dbm(milli(ref.noise.count()));
    if (ref.interference_mw() > 0)
        r.set_interference_dbm(milli(spectrum::dbm(ref.interference_mw()).count()));
    if (ref.blockers) r.set_blocker_dbm(milli(ref.blockers->count()));
    for (std::size_t i = 0; i < std::min(contributions, terms.size()); ++i)
        *r.add_contributions() = message(a.situation(), terms[i]);
    for (const auto& s : spectrum::front_end_signals(a.situation().scene, a.links(), v,
                                                     Geometry::ref, blockers_named)) {
        auto* blocker = r.add_blockers();
        blocker->set_from(a.situation().transmitters[s.transmitter].name);
        blocker->set_level_dbm(milli(s.level.count()));
    }
    return r;
}

v1::PilotResult pilot_result(const Assessment& a, const v1::Pilot& pilot) {
    v1::PilotResult r;
    const auto standing = a.standing(pilot);
    r.set_pilot(pilot.name());
    r.set_verdict(word(spectrum::verdict(standing)));
    r.set_picture(grade(spectrum::picture(standing)));
    if (!standing) return r;
    r.set_margin_ref_db(milli(standing->ref.count()));
    r.set_margin_worst_db(milli(standing->reported_worst().count()));
    return r;
}

v1::CheckReply check(const v1::DaySheet& sheet, v1::Basis::Kind basis, std::size_t contributions) {
    const Assessment a(sheet, basis);
    v1::CheckReply reply;
    reply.set_basis(basis);
    reply.set_model(std::string(model_name));
    for (std::size_t v = 0; v < a.situation().receivers.size(); ++v) {
        *reply.add_receivers() = receiver_result(a, v, contributions);
        add_reach(a, v, reply);
    }
    for (const auto& pilot : sheet.pilots()) *reply.add_pilots() = pilot_result(a, pilot);
    for (std::size_t t = 0; t < a.situation().transmitters.size(); ++t) {
        add_bench(a, t, reply);
        for (auto& remark : remarks(a.situation(), t, sheet)) *reply.add_remarks() = remark;
    }
    for (const auto& caution : cautions(a.situation(), sheet)) reply.add_cautions(caution.text);
    return reply;
}

v1::ExplainReply explain(const v1::DaySheet& sheet, const v1::Pilot& pilot, v1::Basis::Kind basis,
                         std::size_t contributions) {
    const Assessment a(sheet, basis);
    v1::ExplainReply reply;
    reply.set_basis(basis);
    reply.set_model(std::string(model_name));
    *reply.mutable_pilot() = pilot_result(a, pilot);
    for (std::size_t v = 0; v < a.situation().receivers.size(); ++v)
        if (a.situation().receivers[v].owner == pilot.name())
            *reply.add_receivers() = receiver_explained(a, v, contributions);
    for (const auto& text : pilot.defaults()) reply.add_defaults(text);
    for (const auto& relay : sheet.relays())
        if (relay.owner() == pilot.name())
            for (const auto& text : relay.defaults())
                reply.add_defaults(relay.name() + ", " + text);
    add_gear_of(a, pilot, reply);
    for (std::size_t t = 0; t < a.situation().transmitters.size(); ++t)
        if (a.situation().transmitters[t].owner == pilot.name())
            for (auto& remark : remarks(a.situation(), t, sheet)) *reply.add_remarks() = remark;
    for (const auto& caution : cautions(a.situation(), sheet))
        if (caution.concerns.contains(pilot.name())) reply.add_cautions(caution.text);
    return reply;
}

}  // namespace fieldpeg::day
