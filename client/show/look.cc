#include "client/show/look.h"

#include "server/day/phrases.h"

#include <fmt/format.h>
#include <sys/ioctl.h>
#include <unistd.h>
#include <utf8proc.h>

#include <algorithm>
#include <cmath>
#include <cstdlib>
#include <vector>

namespace fieldpeg::show {
namespace {

std::string painted(std::string_view text, std::string_view code, const Look& look) {
    if (!look.colour) return std::string(text);
    return fmt::format("\x1b[{}m{}\x1b[0m", code, text);
}

Look look_of(int file) {
    Look look;
    if (!isatty(file)) return look;
    winsize size{};
    look.width = ioctl(file, TIOCGWINSZ, &size) == 0 && size.ws_col > 0 ? size.ws_col : 80;
    const char* no_colour = std::getenv("NO_COLOR");
    const char* terminal = std::getenv("TERM");
    look.colour = !(no_colour && *no_colour) && !(terminal && std::string_view(terminal) == "dumb");
    return look;
}

}  // namespace

const std::string_view estimates_text =
    "Estimates from declared gear and places: advice, no clearance to launch. Fly with a spotter "
    "and a tested failsafe; bands, powers and licences are for the authority and the club's rules.";

Look look_of_stdout() {
    return look_of(STDOUT_FILENO);
}

Look look_of_stderr() {
    return look_of(STDERR_FILENO);
}

std::string db_text(double value) {
    return day::db_text(value);
}

std::size_t columns(std::string_view text) {
    std::size_t count = 0;
    const auto* at = reinterpret_cast<const utf8proc_uint8_t*>(text.data());
    auto left = static_cast<utf8proc_ssize_t>(text.size());
    while (left > 0) {
        if (*at == '\x1b') {  // a colour: nothing to see up to its m
            while (left > 0 && *at != 'm') ++at, --left;
            if (left > 0) ++at, --left;
            continue;
        }
        utf8proc_int32_t character = 0;
        const auto size = std::max<utf8proc_ssize_t>(utf8proc_iterate(at, left, &character), 1);
        count += static_cast<std::size_t>(std::max(utf8proc_charwidth(character), 0));
        at += size;
        left -= size;
    }
    return count;
}

std::string verdict_text(v1::Verdict::Word verdict, const Look& look) {
    std::string word = v1::Verdict::Word_Name(verdict);
    std::ranges::replace(word, '_', ' ');
    switch (verdict) {
        case v1::Verdict::shaky:
        case v1::Verdict::clash:
        case v1::Verdict::control_at_risk:
            return painted(word, "1;31", look);
        case v1::Verdict::tight:
        case v1::Verdict::patchy:
        case v1::Verdict::too_close:
        case v1::Verdict::too_far:
            return painted(word, "33", look);
        default:
            return word;
    }
}

std::string picture_text(v1::Picture::Grade grade) {
    return v1::Picture::Grade_Name(grade);
}

std::string basis_text(v1::Basis::Kind basis) {
    return basis == v1::Basis::on_air ? "what is on the air or the bench now"
                                      : "every claim held, on the bench or on air";
}

std::string kind_text(v1::Contribution::Kind kind) {
    switch (kind) {
        case v1::Contribution::co_channel:
            return "same channel";
        case v1::Contribution::adjacent:
            return "adjacent channel";
        case v1::Contribution::receiver_product:
            return "product in the receiver";
        case v1::Contribution::transmitter_product:
            return "product in a transmitter";
        case v1::Contribution::burst:
            return "short bursts";
        case v1::Contribution::harmonic:
            return "harmonic";
        default:
            return "unknown";
    }
}

std::string_view way_text(std::string_view kind) {
    if (kind == "on_air") return "on the air";
    if (kind == "told_on") return "told to switch on";
    if (kind == "sighting") return "seen, unasked";
    if (kind == "bench") return "on the bench";
    return kind == "down" ? "down" : "holds it";
}

std::string contribution_text(const v1::Contribution& c) {
    auto text =
        fmt::format("{:.1f} dBm {}: {}", c.level_dbm(), kind_text(c.kind()), makers_text(c));
    if (c.has_product_mhz()) text += fmt::format(" = {} MHz", day::mhz_text(c.product_mhz()));
    return text;
}

std::string heading(std::string_view text, const Look& look) {
    return painted(text, "1", look) + "\n";
}

}  // namespace fieldpeg::show
