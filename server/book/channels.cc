#include "server/book/channels.h"

#include "server/book/names.h"
#include "server/spectrum/units.h"

#include <fmt/format.h>

#include <algorithm>
#include <cctype>
#include <charconv>
#include <cmath>

namespace fieldpeg::book {
namespace {

/// A number and the letters behind it.
struct Measured {
    double value;
    std::string unit;  ///< lower case
};

std::optional<Measured> measured(std::string_view written) {
    Measured m{};
    const auto [end, error] =
        std::from_chars(written.data(), written.data() + written.size(), m.value);
    if (error != std::errc{} || !std::isfinite(m.value)) return std::nullopt;
    for (const char* at = end; at != written.data() + written.size(); ++at)
        if (*at != ' ') m.unit += static_cast<char>(std::tolower(static_cast<unsigned char>(*at)));
    return m;
}

char upper(char c) {
    return static_cast<char>(std::toupper(static_cast<unsigned char>(c)));
}

}  // namespace

const v1::ChannelRow* ChannelNames::row(char letter) const {
    const auto found = std::ranges::find_if(rows_, [&](const v1::ChannelRow& row) {
        return row.name() == std::string(1, upper(letter));
    });
    return found == rows_.end() ? nullptr : &*found;
}

v1::Channel ChannelNames::by_mhz(double mhz) {
    v1::Channel channel;
    channel.set_mhz(mhz);
    channel.set_name(fmt::format("{}", mhz));
    return channel;
}

std::optional<v1::Channel> ChannelNames::read(std::string_view written, std::string& why) const {
    const auto refuse = [&](std::string reason) -> std::optional<v1::Channel> {
        why = fmt::format("'{}' {}", printable(written), reason);
        return std::nullopt;
    };
    if (const auto m = measured(written)) {
        const bool in_ghz = m->unit == "ghz";
        if (!in_ghz && !m->unit.empty() && m->unit != "mhz")
            return refuse("has a unit that is neither MHz nor GHz");
        const double mhz = std::round(m->value * (in_ghz ? 1000 : 1) * channel_steps_per_mhz) /
                           channel_steps_per_mhz;
        if (!(mhz >= channel_mhz_min && mhz <= channel_mhz_max))
            return refuse(
                fmt::format("lies outside {} to {} MHz", channel_mhz_min, channel_mhz_max));
        return by_mhz(mhz);
    }
    std::string letters;
    for (const auto& r : rows_)
        if (!r.name().empty()) letters += (letters.empty() ? "" : ", ") + r.name();
    const auto* found = written.empty() ? nullptr : row(written[0]);
    if (!found)
        return refuse(
            fmt::format("is no channel: a row ({}) and a number from 1 to 8, or MHz", letters));
    const auto number = measured(written.substr(1));
    if (!number || !number->unit.empty() || number->value != std::floor(number->value) ||
        number->value < 1 || number->value > found->channels_size())
        return refuse(fmt::format("is no channel: row {} goes from {}1 to {}{}", found->name(),
                                  found->name(), found->name(), found->channels_size()));
    return found->channels(static_cast<int>(number->value) - 1);
}

std::vector<v1::Channel> ChannelNames::read_range(std::string_view written,
                                                  std::string& why) const {
    const auto dash = written.find('-');
    if (dash == std::string_view::npos) {
        const auto one = read(written, why);
        if (!one) return {};
        return {*one};
    }
    const auto first = read(written.substr(0, dash), why);
    const auto last = first ? read(written.substr(dash + 1), why) : std::nullopt;
    if (!first || !last) return {};
    const auto* whole = row(first->name()[0]);
    const bool one_row = whole && first->name()[0] == last->name()[0];
    const auto index = [&](const v1::Channel& channel) {
        return std::ranges::find(whole->channels(), channel.name(), &v1::Channel::name) -
               whole->channels().begin();
    };
    if (!one_row || index(*first) > index(*last)) {
        why = fmt::format("'{}' is no range: both ends in one row, the lower number first",
                          printable(written));
        return {};
    }
    return {whole->channels().begin() + index(*first),
            whole->channels().begin() + index(*last) + 1};
}

std::optional<double> read_power_dbm(std::string_view written, std::string& why) {
    const auto refuse = [&](std::string_view reason) -> std::optional<double> {
        why = fmt::format("'{}' {}", printable(written), reason);
        return std::nullopt;
    };
    const auto m = measured(written);
    if (!m) return refuse("is no power: write 25mW, 0.6W or 14dBm; a bare number is mW");
    double power_dbm = m->value;
    if (m->unit == "w" || m->unit == "mw" || m->unit.empty()) {
        if (!(m->value > 0)) return refuse("is not above zero");
        power_dbm = 10 * std::log10(m->value * (m->unit == "w" ? 1000 : 1));
    } else if (m->unit != "dbm") {
        return refuse("has a unit that is none of mW, W and dBm");
    }
    if (!(power_dbm >= spectrum::power_min.count() && power_dbm <= spectrum::power_max.count()))
        return refuse(fmt::format("is out of range: powers go from {} to {} dBm",
                                  spectrum::power_min.count(), spectrum::power_max.count()));
    return power_dbm;
}

}  // namespace fieldpeg::book
