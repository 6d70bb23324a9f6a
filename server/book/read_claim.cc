#include "server/book/day_reading.h"
#include "server/spectrum/units.h"

#include <algorithm>
#include <cmath>

namespace fieldpeg::book {
namespace {

constexpr double groups_max = 40;

std::optional<v1::Channel> read_channel(Reader& r, const DayReading& day,
                                        const v1::Transmitter& transmitter) {
    const auto written = read_channel_text(r, "channel", Need::required);
    if (!written) return std::nullopt;
    std::string why;
    auto channel = day.channels.read(*written, why);
    if (!channel) {
        r.problem("channel", why);
        return std::nullopt;
    }
    const auto& allowed = transmitter.channels();
    const bool fits = allowed.empty() || std::ranges::find(allowed, channel->mhz(),
                                                           &v1::Channel::mhz) != allowed.end();
    if (!fits)
        r.problem("channel", fmt::format("{} is not among its channels", channel->name()),
                  fmt::format("one of {}", fmt::join(names_of(allowed), ", ")));
    return channel;
}

void check_step(Reader& r, const v1::Transmitter& transmitter, double power_dbm) {
    const auto& steps = transmitter.power_dbm();
    const bool fits =
        steps.empty() || std::ranges::any_of(steps, [&](double step) {
            return spectrum::is_same_power(spectrum::Dbm(step), spectrum::Dbm(power_dbm));
        });
    if (fits) return;
    std::vector<std::string> in_mw;
    for (const double step : steps) in_mw.push_back(fmt::format("{:.3g}", std::pow(10, step / 10)));
    r.problem(r.has("power_mw") ? "power_mw" : "power_dbm",
              "is none of the powers it can be set to",
              fmt::format("one of {} mW", fmt::join(in_mw, ", ")));
}

std::optional<double> read_power(Reader& r, const v1::Transmitter& transmitter) {
    const auto& steps = transmitter.power_dbm();
    const auto written = read_powers(r, "power", 1);
    const bool said = r.has("power_mw") || r.has("power_dbm");
    if (written.empty() && !said && steps.size() == 1) return steps[0];
    if (written.empty()) {
        if (!said) r.problem("power_mw", "is missing", "power_mw or power_dbm");
        return std::nullopt;
    }
    check_step(r, transmitter, written.front());
    return written.front();
}

/// The flight group it is for: a number, or "always".
void read_group(Reader& r, v1::Claim& claim) {
    const auto* node = r.raw("group");
    if (node == nullptr) return;
    if (node->is_string())
        claim.set_always(r.word("group", {"always"}).has_value());
    else if (const auto number = r.number("group", {1, groups_max, ""});
             number && *number != std::floor(*number))
        r.problem("group", "is no whole number", "the number of a flight group, or \"always\"");
    else if (number)
        claim.set_group(static_cast<std::uint32_t>(*number));
}

}  // namespace

std::optional<std::string> read_channel_text(Reader& r, std::string_view key, Need need) {
    const auto* node = r.raw(key);
    if (node && node->is_number()) return fmt::format("{}", node->value<double>().value_or(0));
    return r.text(key, need);
}

std::optional<v1::Claim> read_claim(Reader& r, const DayReading& day,
                                    const v1::Transmitter& transmitter) {
    v1::Claim claim;
    if (!day.claims_welcome)
        r.problem("", "is not entered with the gear", "'fieldpeg claim' asks for a channel");
    const bool on_air = r.boolean("on_air").value_or(false);
    const bool on_bench = r.boolean("on_bench").value_or(false);
    if (on_air && on_bench) r.problem("on_bench", "is given beside on_air", "one of the two");
    claim.set_stage(on_air ? v1::Claim::on_air : on_bench ? v1::Claim::bench : v1::Claim::held);
    read_group(r, claim);
    const auto channel = read_channel(r, day, transmitter);
    const auto power = read_power(r, transmitter);
    if (!channel || !power) return std::nullopt;
    *claim.mutable_channel() = *channel;
    claim.set_power_dbm(*power);
    return claim;
}

}  // namespace fieldpeg::book
