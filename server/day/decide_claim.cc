#include "server/day/deciding.h"

#include "server/day/candidate.h"
#include "server/day/choices.h"
#include "server/day/flights.h"
#include "server/day/power_limit.h"
#include "server/day/scene.h"
#include "server/day/trial.h"
#include "server/day/words.h"
#include "server/spectrum/scene.h"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <functional>

namespace fieldpeg::day {
namespace {

constexpr std::size_t alternatives_offered = 3;

/// One claim being decided.
class Claiming {
public:
    Claiming(const Given& given, const v1::ClaimChannel& asked, const Holder& held)
        : given_(given),
          asked_(asked),
          held_(held),
          group_(asked.has_group() ? asked.group()
                 : held.claim      ? held.claim->group()
                                   : held.last_group),
          trial_(given.sheet(), held.id, v1::Basis::held,
                 flies_with(given.sheet(), held.name, group_, stays_always()), given.memory) {}

    Decided decide() {
        const auto powers = powers_meant();
        if (!asked_.has_channel()) return best(powers);
        if (const auto wrong = unfit(held_, asked_.channel(), powers.front()))
            return refused(day::message(*wrong));
        return settle(least_steady(asked_.channel(), powers));
    }

private:
    bool stays_always() const {
        return !asked_.has_group() && held_.claim && held_.claim->always();
    }

    Candidate tried(const v1::Channel& channel, double power_dbm) {
        return {channel, power_dbm, trial_.outcome(claim_for(channel, power_dbm, v1::Claim::held))};
    }

    /// In the flight group that was asked for, else as what was held.
    v1::Claim claim_for(const v1::Channel& channel, double power_dbm,
                        v1::Claim::Stage stage) const {
        v1::Claim claim;
        *claim.mutable_channel() = channel;
        claim.set_power_dbm(power_dbm);
        claim.set_group(group_);
        claim.set_always(stays_always());
        claim.set_stage(stage);
        return claim;
    }

    /// As asked, else as held, else all that the transmitter can be set to, rising.
    std::vector<double> powers_meant() const {
        if (asked_.has_power_dbm()) return {asked_.power_dbm()};
        if (held_.claim && !asked_.sharp()) return {held_.claim->power_dbm()};
        return powers_within(given_.sheet(), *held_.gear);
    }

    /// Powers to try, the asked one first, then what is below it.
    std::vector<double> lower_from(double asked_dbm) const {
        std::vector<double> all = {asked_dbm};
        for (const double step : held_.gear->power_dbm())
            if (step < asked_dbm &&
                !spectrum::is_same_power(spectrum::Dbm(step), spectrum::Dbm(asked_dbm)))
                all.push_back(step);
        std::sort(all.begin() + 1, all.end(), std::greater());
        return all;
    }

    Candidate least_steady(const v1::Channel& channel, const std::vector<double>& rising) {
        return day::least_steady([this](const auto& on, double dbm) { return tried(on, dbm); },
                                 channel, rising, asked_.sharp());
    }

    /// The channel that leaves the best worst margin to everybody, one's own included; those that
    /// the rule set remarks on only if there is no other.
    Decided best(const std::vector<double>& powers) {
        std::optional<Candidate> best;
        for (const auto& channel : channels_tried(held_, given_.sheet())) {
            if (const auto wrong = unfit(held_, channel, powers.front()))
                return refused(day::message(*wrong));
            auto candidate = least_steady(channel, powers);
            if (!best || is_better(candidate, *best)) best = std::move(candidate);
        }
        if (!best)
            return refused(not_found("channel",
                                     fmt::format("{} has no channel to choose from", held_.name),
                                     "give its channels, or name one"));
        return settle(*best);
    }

    Decided settle(const Candidate& c) {
        Decided decided;
        auto& reply = *decided.decision.reply.mutable_claim();
        reply.set_transmitter(held_.name);
        *reply.mutable_channel() = c.channel;
        reply.set_power_dbm(milli(c.power_dbm));
        reply.set_group(group_);
        *reply.mutable_own() = c.outcome.own;
        reply.set_reason(c.outcome.reason);
        for (const auto& h : c.outcome.harms) *reply.add_harms() = h;
        for (const auto& h : c.outcome.links_lost) *reply.add_links_lost() = h;
        auto claim = claim_for(c.channel, c.power_dbm, stage_when_held(held_));
        for (const auto& remark : c.outcome.remarks) *reply.add_remarks() = remark;
        for (auto& name : in_the_air_elsewhere()) reply.add_not_before(std::move(name));
        if (auto why_not = objection(c)) {
            *reply.mutable_refusal() = std::move(*why_not);
            add_alternatives(c, reply);
            return decided;
        }
        if (asked_.only_try()) return decided;
        reply.set_claimed(true);
        claim.set_since_ms(given_.now_ms);
        if (!c.outcome.harms.empty() || is_above_limit(given_.sheet(), c.power_dbm))
            claim.set_allowed_because(asked_.allowed_because());
        for (const auto& h : c.outcome.harms)
            decided.warnings.push_back(allowed_against(h, given_.sheet(), held_.id, claim));
        auto& event = *decided.decision.events.emplace_back().mutable_claimed();
        event.set_subject(held_.id);
        *event.mutable_claim() = std::move(claim);
        return decided;
    }

    /// Who of other groups is in the air: they land before this one flies.
    std::vector<std::string> in_the_air_elsewhere() const {
        std::vector<std::string> names;
        for_each_holder(given_.sheet(), [&](const auto& one) {
            const auto& claim = one.claim();
            if (is_in_the_air(claim.stage()) && is_of_one_group(claim) && group_ != 0 &&
                claim.group() != group_)
                names.push_back(one.name());
        });
        return names;
    }

    std::optional<v1::Refusal> objection(const Candidate& c) const {
        if (!c.outcome.harms.empty() && asked_.allowed_because().empty()) {
            const auto& h = c.outcome.harms.front();
            return conflict(held_.name,
                            fmt::format("{} at {} would harm {}: {}", channel_text(c.channel),
                                        power_text(c.power_dbm), h.pilot(), left_text(h)),
                            "take one of the alternatives, or ask the marshal to allow it");
        }
        if (!asked_.allowed_because().empty()) return std::nullopt;
        if (auto above = above_limit(given_.sheet(), held_, c.power_dbm)) return above;
        if (asked_.yes_anyway()) return std::nullopt;
        if (!asked_.has_channel() && !c.is_inside())
            return conflict(held_.name,
                            fmt::format("the best that is left is {}, outside the day's rule set",
                                        channel_text(c.channel)),
                            "another flight group; or --yes, if your licence has that band");
        if (in_trouble(c.outcome.own.verdict()))
            return conflict(held_.name,
                            fmt::format("{} at {}: {}", channel_text(c.channel),
                                        power_text(c.power_dbm), own_text(c.outcome.own)),
                            "take one of the alternatives, or say --yes");
        return std::nullopt;
    }

    /// The nearest good ones: those without a remark first, steady before tight.
    void add_alternatives(const Candidate& refused, v1::ClaimReply& reply) {
        auto channels = channels_of(held_, given_.sheet());
        const auto distance = [&](const v1::Channel& c) {
            return std::abs(c.mhz() - refused.channel.mhz());
        };
        std::ranges::stable_sort(channels, {}, distance);
        std::array<std::vector<Candidate>, 4> ranked;
        for (const auto& channel : channels) {
            if (ranked[0].size() == alternatives_offered) break;
            for (const double power_dbm : lower_from(refused.power_dbm)) {
                if (is_above_limit(given_.sheet(), power_dbm)) continue;
                auto c = tried(channel, power_dbm);
                if (!c.is_good()) continue;
                const bool calm = c.outcome.own.verdict() == v1::Verdict::steady;
                ranked[(c.is_clean() ? 0u : 2u) + (calm ? 0u : 1u)].push_back(std::move(c));
                break;
            }
        }
        for (const auto& rank : ranked)
            for (const auto& c : rank)
                if (reply.alternatives_size() < static_cast<int>(alternatives_offered))
                    *reply.add_alternatives() = message(c);
    }

    const Given& given_;
    const v1::ClaimChannel& asked_;
    const Holder& held_;
    std::uint32_t group_;
    Trial trial_;
};

}  // namespace

std::optional<Refusal> unfit(const Holder& holder, const v1::Channel& channel, double power_dbm) {
    const auto& gear = *holder.gear;
    if (!can_be_tuned_to(gear, channel)) {
        std::vector<std::string> names;
        for (const auto& c : gear.channels()) names.push_back(c.name());
        return Refusal{Refusal::Kind::out_of_range, holder.name,
                       fmt::format("{} is not among its channels", channel_text(channel)),
                       fmt::format("one of {}", fmt::join(names, ", "))};
    }
    if (can_be_set_to(gear, power_dbm)) return std::nullopt;
    std::vector<std::string> steps;
    for (const double step : gear.power_dbm()) steps.push_back(power_text(step));
    return Refusal{Refusal::Kind::out_of_range, holder.name,
                   fmt::format("it cannot be set to {}", power_text(power_dbm)),
                   fmt::format("one of {}", fmt::join(steps, ", "))};
}

v1::Claim::Stage stage_when_held(const Holder& holder) {
    return holder.claim && holder.claim->stage() == v1::Claim::off_air ? v1::Claim::off_air
                                                                       : v1::Claim::held;
}

v1::Warning allowed_against(const v1::Harm& harm, const v1::DaySheet& sheet, std::uint32_t cause,
                            const v1::Claim& claim) {
    v1::Warning w;
    w.set_kind(v1::Warning::allowed);
    w.set_pilot(pilot(sheet, harm.pilot())->id());
    w.set_cause(cause);
    w.set_before(harm.before());
    w.set_after(harm.after());
    w.set_margin_before_db(harm.margin_before_db());
    w.set_margin_after_db(harm.margin_after_db());
    *w.mutable_channel() = claim.channel();
    w.set_power_dbm(claim.power_dbm());
    return w;
}

Decided decide_claim(const Given& given, const v1::ClaimChannel& asked) {
    const auto held = holder(given.sheet(), asked.transmitter());
    if (!held || !held->gear)
        return refused(not_found(
            "transmitter", fmt::format("'{}' has no transmitter on this day", asked.transmitter()),
            "enter it first: fieldpeg pilot add, or fieldpeg relay add"));
    if (!given.may_act_for(*held))
        return refused(not_permitted(
            fmt::format("only {} or the marshal claims for {}", held->owner_name, held->name)));
    if (!asked.allowed_because().empty() && !given.is_marshal())
        return refused(
            not_permitted("only the marshal allows what harms somebody", "ask the marshal"));
    if (held->radiates() && !asked.only_try())
        return refused(
            conflict(held->name,
                     fmt::format("is {} on {}",
                                 held->claim->stage() == v1::Claim::down ? "down" : "switched on",
                                 channel_text(held->claim->channel())),
                     "switch it off first; if it radiates elsewhere already, say so with "
                     "'on --already --channel'"));
    if (are_too_many_channels(given.sheet(), *held,
                              asked.has_channel() ? &asked.channel() : nullptr))
        return refused(day::message({Refusal::Kind::out_of_range, "channel",
                                     fmt::format("more than {} different channels would be in use",
                                                 spectrum::distinct_channels_max),
                                     "take one that somebody far away holds"}));
    return Claiming(given, asked, *held).decide();
}

Decided decide_release(const Given& given, const v1::Release& asked) {
    const auto held = holder(given.sheet(), asked.transmitter());
    if (!held)
        return refused(
            not_found("transmitter", fmt::format("nobody is called '{}'", asked.transmitter())));
    if (!given.may_act_for(*held))
        return refused(not_permitted(
            fmt::format("only {} or the marshal gives its channel back", held->owner_name)));
    if (!held->claim) return done(fmt::format("{} holds no channel", held->name));
    if (held->radiates())
        return refused(conflict(held->name, "is on the air, on the bench or down", "off first"));
    auto decided =
        done(fmt::format("{} gives {} back", held->name, channel_text(held->claim->channel())));
    auto& event = *decided.decision.events.emplace_back().mutable_released();
    event.set_subject(held->id);
    event.set_reason(asked.reason());
    return decided;
}

}  // namespace fieldpeg::day
