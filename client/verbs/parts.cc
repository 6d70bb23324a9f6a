#include "client/verbs/parts.h"

#include "server/book/library.h"
#include "server/book/names.h"

#include <fmt/format.h>

#include <chrono>
#include <cmath>
#include <cstdio>
#include <fstream>
#include <iostream>
#include <iterator>
#include <locale>
#include <sstream>

namespace fieldpeg::verbs {

void add_transmitter_flags(Verb& verb, TransmitterFlags& flags) {
    verb.value("--emission", flags.emission,
               "what it radiates, from 'fieldpeg gear'; default: fm-video")
        .type_name("NAME");
    verb.value("--antenna", flags.antenna,
               "its antenna, from 'fieldpeg gear'; default: circular-omni")
        .type_name("NAME");
    verb.value("--polarisation", flags.polarisation,
               "rhcp, lhcp, vertical or horizontal; default: rhcp for a circular antenna")
        .type_name("WORD");
    verb.value("--power", flags.powers, "what it can be set to: 25mW,200mW; default: 25mW")
        .type_name("POWER")
        .split_at(',');
    verb.value("--channels", flags.channels,
               "what it can be tuned to: R1-R8,F4,5790; default: anything")
        .type_name("CHANNEL")
        .split_at(',');
}

TransmitterFlags with_defaults(TransmitterFlags flags) {
    if (flags.emission.empty()) flags.emission = "fm-video";
    if (flags.antenna.empty()) flags.antenna = "circular-omni";
    if (flags.powers.empty()) flags.powers = {"25mW"};
    flags.polarisation = polarisation_of(flags.antenna, flags.polarisation);
    return flags;
}

std::string polarisation_of(const std::string& antenna, const std::string& said) {
    if (!said.empty()) return said;
    for (const auto& one : book::library().antennas())
        if (one.name() == antenna) return one.circular() ? "rhcp" : "vertical";
    return "rhcp";
}

std::optional<book::TransmitterText> transmitter_text(const TransmitterFlags& flags) {
    book::TransmitterText text{
        flags.emission, flags.antenna, flags.polarisation, {}, flags.channels};
    for (const auto& written : flags.powers) {
        const auto power = power_argument("--power", written);
        if (!power) return std::nullopt;
        text.power_dbm.push_back(*power);
    }
    return text;
}

bool is_date(const std::string& written) {
    int year = 0, end = 0;
    unsigned month = 0, day = 0;
    if (std::sscanf(written.c_str(), "%4d-%2u-%2u%n", &year, &month, &day, &end) != 3) return false;
    const std::chrono::year_month_day date{std::chrono::year(year), std::chrono::month(month),
                                           std::chrono::day(day)};
    return date.ok() && written == fmt::format("{:04}-{:02}-{:02}", year, month, day);
}

std::optional<book::MapPoint> position_argument(std::string_view flag, const std::string& written) {
    std::istringstream in(written);
    in.imbue(std::locale::classic());
    double latitude = 0, longitude = 0;
    char comma = 0;
    if (!(in >> latitude >> comma >> longitude) || comma != ',' || !(in >> std::ws).eof()) {
        say_bad_input(flag, fmt::format("'{}' is no position: degrees north, degrees east, as "
                                        "52.04512,-1.2034",
                                        book::printable(written)));
        return std::nullopt;
    }
    if (std::abs(latitude) > 90 || std::abs(longitude) > 180) {
        say_bad_input(flag, fmt::format("{} is beyond the poles or once around: latitude first",
                                        book::printable(written)));
        return std::nullopt;
    }
    return book::MapPoint{latitude, longitude};
}

std::optional<std::string> read_text(const std::string& path) {
    if (path == "-") return std::string(std::istreambuf_iterator<char>(std::cin), {});
    std::ifstream in(path, std::ios::binary);
    if (!in) {
        say_bad_input(path, "cannot be read");
        return std::nullopt;
    }
    return std::string(std::istreambuf_iterator<char>(in), {});
}

int put(const Common& common, const std::string& toml, const std::string& file, bool only_new) {
    v1::Command command;
    command.mutable_put()->set_toml(toml);
    command.mutable_put()->set_file(file);
    command.mutable_put()->set_only_new(only_new);
    return tell_and_print(common, command);
}

int put(const Common& common, const Result<std::string>& toml, bool only_new) {
    return toml ? put(common, *toml, "", only_new) : say_refusal(toml.error());
}

}  // namespace fieldpeg::verbs
