#include "tests/support/crowded_day.h"

#include "tests/support/days.h"
#include "tests/support/random.h"

#include <fmt/format.h>

#include <algorithm>
#include <set>
#include <string>
#include <string_view>
#include <vector>

namespace fieldpeg::testing {
namespace {

/// Letters of one alphabet, a space among them; names are made of these.
constexpr std::u32string_view alphabets[] = {
    U"abcdefghijklmnopqrstuvwxyz ABCDEFGHIJKLMNOPQRSTUVWXYZ0123456789.-",
    U"WMmw@ ",
    U"il1 .",
    U"\u0430\u0431\u0432\u0433\u0434\u0435\u0436\u0437\u0448\u0449\u044E \u0416\u0429\u0428\u042E",
    U"\u03B1\u03B2\u03B3\u03B4\u03C9\u03C8 \u0391\u03A9\u03A8",
    U"\u4E2D\u6587\u5B57\u98DE\u884C \u65E5\u672C",
    U"\u0645\u062D\u0648\u062F\u0634\u0635 \u0628",
    U"\u05D0\u05D1\u05D2\u05E9 \u05E7",
    U"\u00E9\u00FC\u00F1\u00E5\u00D8 \u00DF",
};

std::string utf8(char32_t c) {
    std::string out;
    const auto add = [&](unsigned bits) { out += static_cast<char>(bits); };
    if (c < 0x80) {
        add(c);
    } else if (c < 0x800) {
        add(0xC0 | c >> 6);
        add(0x80 | (c & 0x3F));
    } else {
        add(0xE0 | c >> 12);
        add(0x80 | (c >> 6 & 0x3F));
        add(0x80 | (c & 0x3F));
    }
    return out;
}

std::string random_name(std::mt19937_64& rng, std::set<std::string>& taken) {
    const auto letters =
        alphabets[static_cast<std::size_t>(whole(rng, 0, std::size(alphabets) - 1))];
    while (true) {
        const int length = chance(rng, 30) ? 40 : whole(rng, 1, 40);
        std::string name;
        for (int i = 0; i < length; ++i) {
            // A name neither begins nor ends with a space, nor has two of them in a row.
            char32_t c = ' ';
            while (c == ' ' && (i == 0 || i == length - 1 || name.back() == ' ' || chance(rng, 50)))
                c = letters[static_cast<std::size_t>(
                    whole(rng, 0, static_cast<int>(letters.size()) - 1))];
            name += utf8(c);
        }
        // What differs in case only is one name to the day file.
        auto key = name;
        std::ranges::transform(key, key.begin(),
                               [](char c) { return c >= 'A' && c <= 'Z' ? c + 32 : c; });
        if (taken.insert(key).second) return name;
    }
}

class DayText {
public:
    explicit DayText(std::mt19937_64& rng)
        : rng_(rng), apart_m_(one_of(rng, {0.02, 0.3, 3.0, 30.0})) {
        text_ = fmt::format("[day]\nname = \"{}\"\ndate = 2026-06-12\n[field]\nname = \"{}\"\n",
                            name(), name());
        for (int i = whole(rng, 1, 3); i > 0; --i) {
            areas_.push_back(name());
            text_ += fmt::format(
                "[[field.area]]\nname = \"{}\"\ncentre_m = [{:.2f}, {:.2f}]\nradius_m = {:.1f}\n"
                "height_m = [5, 60]\n",
                areas_.back(), between(rng, -200, 200), between(rng, 60, 900),
                between(rng, 20, 300));
        }
    }

    v1::DaySheet sheet() {
        const int pilots = whole(rng_, 1, 14);
        for (int i = 0; i < pilots; ++i) place();
        for (int i = 0; i < pilots; ++i) pilot(i);
        return sheet_of(text_ + pilots_);
    }

private:
    std::string name() { return random_name(rng_, names_); }

    std::string place() {
        auto made = name();
        const double across = chance(rng_, 20) ? apart_m_ * 10 : apart_m_;
        east_m_ += between(rng_, 0.01, across);
        text_ +=
            fmt::format("[[field.place]]\nname = \"{}\"\nat_m = [{:.2f}, {:.2f}]\nheight_m = 1.7\n",
                        made, east_m_, between(rng_, -apart_m_, apart_m_));
        places_.push_back(made);
        return made;
    }

    std::string channel() {
        return one_of<std::string>(
            rng_, {"R1", "R2", "R3", "R4", "R5", "R6", "R7", "R8", "F2", "F4", "A1", "E1"});
    }

    void pilot(int i) {
        const bool has_relay = chance(rng_, 30);
        const auto who = name();
        pilots_ += text_of(PilotText{
            .name = who,
            .place = chance(rng_, 20) ? places_[0] : places_[static_cast<std::size_t>(i)],
            .channel = has_relay ? std::to_string(1240 + 10 * whole(rng_, 0, 9)) : channel(),
            .power_mw = chance(rng_, 20) ? "1000" : "25",
            .stage = chance(rng_, 80) ? "on_air = true" : "",
            .area = areas_[static_cast<std::size_t>(
                whole(rng_, 0, static_cast<int>(areas_.size()) - 1))]});
        if (has_relay)
            pilots_ += text_of(RelayText{.name = name(),
                                         .owner = who,
                                         .channel = channel(),
                                         .power_mw = chance(rng_, 50) ? "600" : "25",
                                         .place = place()});
    }

    std::mt19937_64& rng_;
    double apart_m_, east_m_ = 0;
    std::string text_, pilots_;
    std::set<std::string> names_;
    std::vector<std::string> places_, areas_;
};

v1::LogEntry entry(const std::string& who, const std::string& kind, double mhz,
                   std::int64_t at_ms) {
    v1::LogEntry e;
    e.set_at_ms(at_ms);
    e.set_subject(who);
    e.set_kind(kind);
    e.set_frequency_mhz(mhz);
    e.set_power_dbm(13.979);
    e.set_text(who + " " + kind);
    return e;
}

}  // namespace

v1::DaySheet crowded_day(std::mt19937_64& rng) {
    return DayText(rng).sheet();
}

v1::LogReply crowded_course(std::mt19937_64& rng, const v1::DaySheet& sheet,
                            std::int64_t until_ms) {
    std::vector<v1::LogEntry> all;
    for (const auto& p : sheet.pilots()) {
        std::int64_t at_ms = 60'000;
        const double mhz = p.claim().channel().mhz();
        const auto later = [&](const std::string& kind) {
            at_ms += whole(rng, 1, 40) * 60'000;
            if (at_ms < until_ms) all.push_back(entry(p.name(), kind, mhz, at_ms));
        };
        later("claimed");
        for (int i = whole(rng, 0, 6); i > 0; --i) {
            later("bench");
            later("on_air");
            if (chance(rng, 30)) later("warning");
            later(chance(rng, 20) ? "down" : "off_air");
        }
        if (chance(rng, 50)) later("released");
    }
    for (int i = whole(rng, 0, 3); i > 0; --i)
        all.push_back(entry("sighting " + std::to_string(i), "sighting", 5732,
                            60'000 + whole(rng, 0, static_cast<int>(until_ms / 1000 - 61)) * 1000));
    std::ranges::stable_sort(all, {}, &v1::LogEntry::at_ms);
    v1::LogReply log;
    for (auto& e : all) {
        e.set_version(static_cast<std::uint64_t>(log.entries_size()) + 2);
        *log.add_entries() = std::move(e);
    }
    return log;
}

}  // namespace fieldpeg::testing
