#include "server/day/comparison.h"
#include "server/day/deciding.h"
#include "server/day/flights.h"
#include "server/day/phrases.h"
#include "server/day/power_limit.h"
#include "server/day/results.h"
#include "server/day/trial.h"
#include "server/day/words.h"

#include <fmt/format.h>

#include <algorithm>
#include <set>
#include <utility>
#include <vector>

namespace fieldpeg::day {
namespace {

bool is_on_it(const Holder& held, const v1::Assignment& asked) {
    return held.claim && held.claim->channel().mhz() == asked.channel().mhz() &&
           milli(held.claim->power_dbm()) == milli(asked.power_dbm());
}

bool is_held(const Holder& held, const v1::Assignment& asked) {
    return is_on_it(held, asked) && held.claim->group() == asked.group();
}

/// Only the flight group is another: nothing that radiates is moved by that. What is on whichever
/// group flies, or down, is in none.
bool changes_group_alone(const Holder& held, const v1::Assignment& asked) {
    return is_on_it(held, asked) && !held.claim->always() && held.claim->stage() != v1::Claim::down;
}

/// Channels given out together.
class Assigning {
public:
    Assigning(const Given& given, const v1::Assign& asked)
        : given_(given), asked_(asked), after_(given.sheet()) {}

    Decided decide() {
        for (const auto& one : asked_.all())
            if (auto wrong = put(one)) return refused(*std::move(wrong));
        // Who has no group flies with each of the others.
        const auto flown = groups_.contains(0) ? flight_groups(after_)
                                               : std::vector(groups_.begin(), groups_.end());
        for (const auto group : flown) judge(group);
        return settle();
    }

private:
    /// Writes one share down; a refusal if it cannot be had.
    std::optional<v1::Refusal> put(const v1::Assignment& one) {
        const auto held = holder(given_.sheet(), one.transmitter());
        if (!held || !held->gear)
            return not_found("transmitter",
                             fmt::format("'{}' has no transmitter on this day", one.transmitter()));
        if (!named_.insert(held->id).second)
            return conflict(held->name, "is named twice", "one channel each");
        groups_.insert(one.group());
        if (is_held(*held, one)) return std::nullopt;
        if (held->radiates() && changes_group_alone(*held, one)) {
            claim_of(after_, held->id).set_group(one.group());
            moved_.push_back(held->id);
            *reply_.add_changed() = one;
            return std::nullopt;
        }
        if (held->radiates())
            return conflict(held->name,
                            fmt::format("is on {} by now", channel_text(held->claim->channel())),
                            "plan again: what radiates is never moved");
        if (const auto wrong = unfit(*held, one.channel(), one.power_dbm()))
            return day::message(*wrong);
        if (asked_.allowed_because().empty())
            if (auto above = above_limit(given_.sheet(), *held, one.power_dbm())) return above;
        auto& claim = claim_of(after_, held->id);
        claim = v1::Claim();
        *claim.mutable_channel() = one.channel();
        claim.set_power_dbm(one.power_dbm());
        claim.set_group(one.group());
        claim.set_always(one.group() == 0 && held->claim && held->claim->always());
        claim.set_stage(stage_when_held(*held));
        claim.set_since_ms(given_.now_ms);
        claim.set_allowed_because(asked_.allowed_because());
        moved_.push_back(held->id);
        *reply_.add_changed() = one;
        return std::nullopt;
    }

    /// Who is in trouble among those who get a channel, and who else pays, in one flight group.
    void judge(std::uint32_t group) {
        const auto sheet_after = of_group(after_, group);
        const Assessment after(sheet_after, v1::Basis::held);
        const Comparison comparison(standings(of_group(given_.sheet(), group), v1::Basis::held),
                                    after);
        const auto movers = owners_of_moved();
        const auto is_new = [&](const std::string& pilot) { return judged_.insert(pilot).second; };
        for (const auto& h : comparison.links_lost(movers)) *reply_.add_links_lost() = h;
        for (auto& h : comparison.harms(movers))
            if (is_new(h.pilot())) *reply_.add_harms() = std::move(h);
        for (const auto& pilot : sheet_after.pilots()) {
            if (!movers.contains(pilot.name())) continue;
            const auto result = pilot_result(after, pilot);
            if (in_trouble(result.verdict()) && is_new(pilot.name()))
                *reply_.add_in_trouble() = result;
        }
    }

    Comparison::Names owners_of_moved() const {
        Comparison::Names names;
        for (const auto id : moved_) names.insert(holder(after_, id)->owner_name);
        return names;
    }

    Decided settle() {
        Decided decided;
        if (!reply_.harms().empty() && asked_.allowed_because().empty()) {
            const auto& h = reply_.harms(0);
            *reply_.mutable_refusal() =
                conflict(h.pilot(), fmt::format("it would harm {}: {}", h.pilot(), left_text(h)),
                         "plan with them, or say why it is allowed: --because");
        } else if (!reply_.in_trouble().empty() && !asked_.yes_anyway() &&
                   asked_.allowed_because().empty()) {
            const auto& p = reply_.in_trouble(0);
            *reply_.mutable_refusal() =
                conflict(p.pilot(),
                         p.verdict() == v1::Verdict::control_at_risk
                             ? p.reason()
                             : fmt::format("would be {} ({} dB)", verdict_word(p.verdict()),
                                           db_text(p.margin_ref_db())),
                         "fly in groups ('fieldpeg rota'), or say --yes");
        } else if (!asked_.only_try()) {
            for (const auto id : moved_) record(id, decided);
            for (const auto& h : reply_.harms())
                decided.warnings.push_back(allowed_against(h, given_.sheet(), moved_.front(),
                                                           *holder(after_, moved_.front())->claim));
            reply_.set_assigned(true);
        }
        *decided.decision.reply.mutable_assigned() = std::move(reply_);
        return decided;
    }

    void record(std::uint32_t id, Decided& decided) const {
        const auto held = holder(after_, id);
        auto& event = *decided.decision.events.emplace_back().mutable_claimed();
        event.set_subject(id);
        *event.mutable_claim() = *held->claim;
        if (held->radiates()) return;  // on the channel that it has: nobody need be told
        v1::Warning w;
        w.set_kind(v1::Warning::moved);
        w.set_pilot(held->owner);
        w.set_cause(id);
        *w.mutable_channel() = held->claim->channel();
        w.set_power_dbm(held->claim->power_dbm());
        decided.warnings.push_back(std::move(w));
    }

    const Given& given_;
    const v1::Assign& asked_;
    v1::DaySheet after_;
    std::set<std::uint32_t> named_, groups_;
    std::set<std::string> judged_;  ///< who is in the reply already
    std::vector<std::uint32_t> moved_;
    v1::AssignReply reply_;
};

}  // namespace

Decided decide_assign(const Given& given, const v1::Assign& asked) {
    if (auto wrong = refused_unread(given.actor, v1::Command::kAssign))
        return refused(*std::move(wrong));
    if (asked.all().empty())
        return refused(day::message({Refusal::Kind::malformed, "all",
                                     "there is nothing in the plan", "make one: fieldpeg plan"}));
    return Assigning(given, asked).decide();
}

}  // namespace fieldpeg::day
