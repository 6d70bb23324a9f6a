#include "client/verbs/parts.h"

#include "server/book/library.h"

#include <fmt/format.h>

#include <cmath>
#include <fstream>
#include <iostream>
#include <iterator>

namespace fieldpeg::verbs {

std::string toml_text(const std::string& text) {
    std::string out = "\"";
    for (const char c : text) {
        const auto byte = static_cast<unsigned char>(c);
        if (c == '"' || c == '\\')
            out += fmt::format("\\{}", c);
        else if (byte < 0x20 || byte == 0x7f)
            out += fmt::format("\\u{:04x}", byte);
        else
            out += c;
    }
    return out + "\"";
}

std::string toml_list(const std::vector<std::string>& texts) {
    std::vector<std::string> quoted;
    for (const auto& text : texts) quoted.push_back(toml_text(text));
    return fmt::format("[{}]", fmt::join(quoted, ", "));
}

void add_transmitter_flags(Verb& verb, TransmitterFlags& flags) {
    verb.value("--emission", flags.emission, "what it radiates, from 'fieldpeg gear'")
        .type_name("NAME")
        .shows_default();
    verb.value("--antenna", flags.antenna, "its antenna, from 'fieldpeg gear'")
        .type_name("NAME")
        .shows_default();
    verb.value("--polarisation", flags.polarisation,
               "rhcp, lhcp, vertical or horizontal; default: rhcp for a circular antenna")
        .type_name("WORD");
    verb.value("--power", flags.powers, "what it can be set to: 25mW,200mW")
        .type_name("POWER")
        .split_at(',')
        .shows_default();
    verb.value("--channels", flags.channels,
               "what it can be tuned to: R1-R8,F4,5790; default: anything")
        .type_name("CHANNEL")
        .split_at(',');
}

std::string polarisation_of(const std::string& antenna, const std::string& said) {
    if (!said.empty()) return said;
    for (const auto& one : book::library().antennas())
        if (one.name() == antenna) return one.circular() ? "rhcp" : "vertical";
    return "rhcp";
}

std::optional<std::string> toml_lines(const TransmitterFlags& flags) {
    std::vector<std::string> powers;
    for (const auto& written : flags.powers) {
        const auto power = power_argument("--power", written);
        if (!power) return std::nullopt;
        powers.push_back(fmt::format("{:.6g}", std::pow(10, *power / 10)));
    }
    auto lines = fmt::format("emission = {}\nantenna = {}\npolarisation = {}\npower_mw = [{}]\n",
                             toml_text(flags.emission), toml_text(flags.antenna),
                             toml_text(polarisation_of(flags.antenna, flags.polarisation)),
                             fmt::join(powers, ", "));
    if (!flags.channels.empty()) lines += fmt::format("channels = {}\n", toml_list(flags.channels));
    return lines;
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

int put(const Common& common, const std::string& toml) {
    v1::Command command;
    command.mutable_put()->set_toml(toml);
    return tell_and_print(common, command);
}

}  // namespace fieldpeg::verbs
