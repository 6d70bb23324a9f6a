#include "server/day/free_channels.h"

#include "server/day/candidate.h"
#include "server/day/choices.h"
#include "server/day/flights.h"
#include "server/day/line.h"
#include "server/day/power_limit.h"
#include "server/day/state.h"

#include <fmt/format.h>

#include <algorithm>
#include <functional>
#include <optional>
#include <utility>
#include <vector>

namespace fieldpeg::day {
namespace {

/// One who looks for another channel, now and in the flights to come.
class Looking {
public:
    Looking(const v1::DayState& state, const v1::FreeQuery& query, const Holder& held,
            Memory& memory)
        : sheet_(state.sheet()),
          held_(held),
          is_always_(!query.has_group() && held.claim && held.claim->always()),
          group_(query.has_group() ? query.group()
                 : held.claim      ? held.claim->group()
                                   : held.last_group),
          now_(with_called(state, held.id), held.id, v1::Basis::on_air, {0}, &memory),
          later_(sheet_, held.id, v1::Basis::held,
                 flies_with(sheet_, held.name, group_, is_always_), &memory) {}

    v1::FreeReply reply() {
        v1::FreeReply reply;
        reply.set_transmitter(held_.name);
        for (const auto& c : free()) *reply.add_free() = message(c);
        if (!held_.claim) return reply;
        const auto as_held = tried_now(held_.claim->channel(), held_.claim->power_dbm());
        *reply.mutable_held_now() = message(as_held);
        if (is_a_yes(as_held)) return reply;
        if (const auto lower = lower_step()) *reply.mutable_held_lower() = message(*lower);
        return reply;
    }

private:
    v1::Claim claim_for(const v1::Channel& channel, double power_dbm,
                        v1::Claim::Stage stage) const {
        v1::Claim claim;
        *claim.mutable_channel() = channel;
        claim.set_power_dbm(power_dbm);
        claim.set_group(group_);
        claim.set_always(is_always_);
        claim.set_stage(stage);
        return claim;
    }

    Candidate tried_now(const v1::Channel& channel, double power_dbm) {
        return {channel, power_dbm, now_.outcome(claim_for(channel, power_dbm, v1::Claim::on_air))};
    }

    /// What is no good now need not be looked at for later.
    Candidate tried(const v1::Channel& channel, double power_dbm) {
        auto c = tried_now(channel, power_dbm);
        if (c.is_good())
            Trial::add(later_.outcome(claim_for(channel, power_dbm, v1::Claim::held)), c.outcome);
        return c;
    }

    /// As a claim has it where nobody says a power.
    std::vector<double> powers() const {
        if (held_.claim && !is_above_limit(sheet_, held_.claim->power_dbm()))
            return {held_.claim->power_dbm()};
        return powers_within(sheet_, *held_.gear);
    }

    std::vector<Candidate> free() {
        const auto rising = powers();
        std::vector<Candidate> all;
        for (const auto& channel : channels_tried(held_, sheet_)) {
            if (held_.claim && held_.claim->channel().mhz() == channel.mhz()) continue;
            auto c = least_steady([this](const auto& on, double dbm) { return tried(on, dbm); },
                                  channel, rising, false);
            if (c.is_good() && !is_above_limit(sheet_, c.power_dbm)) all.push_back(std::move(c));
        }
        std::ranges::stable_sort(all, is_better);
        if (all.size() > free_channels_max) all.erase(all.begin() + free_channels_max, all.end());
        return all;
    }

    /// Whether it would be one if they asked.
    bool is_a_yes(const Candidate& c) const {
        const bool is_allowed =
            held_.claim->power_dbm() == c.power_dbm && !held_.claim->allowed_because().empty();
        return c.is_good() && (is_allowed || !is_above_limit(sheet_, c.power_dbm));
    }

    std::optional<Candidate> lower_step() {
        auto falling = powers_of(*held_.gear);
        std::ranges::reverse(falling);
        for (const double step : falling) {
            if (step >= held_.claim->power_dbm() ||
                spectrum::is_same_power(spectrum::Dbm(step),
                                        spectrum::Dbm(held_.claim->power_dbm())))
                continue;
            if (auto c = tried_now(held_.claim->channel(), step); is_a_yes(c)) return c;
        }
        return std::nullopt;
    }

    const v1::DaySheet& sheet_;
    const Holder& held_;
    bool is_always_;
    std::uint32_t group_;
    Trial now_, later_;
};

}  // namespace

Result<v1::FreeReply> free_channels(const v1::DayState& state, const v1::FreeQuery& query,
                                    Memory& memory) {
    const auto& sheet = state.sheet();
    const auto held = holder(sheet, query.transmitter());
    if (!held || !held->gear)
        return Refusal{Refusal::Kind::not_found, "transmitter",
                       fmt::format("'{}' has no transmitter on this day", query.transmitter()),
                       "enter it first: fieldpeg pilot add, or fieldpeg relay add"};
    if (are_too_many_channels(sheet, *held, nullptr))
        return Refusal{Refusal::Kind::out_of_range, "channel",
                       fmt::format("more than {} different channels are in use",
                                   spectrum::distinct_channels_max),
                       "take one that somebody far away holds"};
    return Looking(state, query, *held, memory).reply();
}

}  // namespace fieldpeg::day
