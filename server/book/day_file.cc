#include "server/book/day_file.h"

#include "server/book/day_reading.h"
#include "server/book/kits.h"
#include "server/book/library.h"
#include "server/spectrum/scene.h"

#include <cerrno>
#include <cstring>
#include <filesystem>
#include <fstream>

namespace fieldpeg::book {
namespace {

void read_head(Reader& r, DayReading& day) {
    day.sheet.set_name(r.name("name", Need::required).value_or(""));
    day.sheet.set_date(r.date("date", Need::required).value_or(""));
    day.sheet.set_usual_minutes(read_usual_minutes(r));
    day.sheet.set_lost_picture(read_lost_picture(r));
    const auto limit = read_powers(r, "power_limit", 1);
    if (!limit.empty()) day.sheet.set_power_limit_dbm(limit.front());
    const auto rules = r.text("rules");
    if (!rules) return;
    if (const auto* found = known(r, "rules", *rules, day.gear.rule_sets(), "rule set"))
        *day.sheet.mutable_rules() = *found;
}

/// Work grows with the square of the channels in use.
void check_distinct_channels(Reader& top, const v1::DaySheet& sheet) {
    std::set<double> held;
    for (const auto& pilot : sheet.pilots())
        if (pilot.has_claim()) held.insert(pilot.claim().channel().mhz());
    for (const auto& relay : sheet.relays())
        if (relay.has_claim()) held.insert(relay.claim().channel().mhz());
    if (held.size() > spectrum::distinct_channels_max)
        top.problem("pilot", fmt::format("{} different channels are held", held.size()),
                    fmt::format("at most {}", spectrum::distinct_channels_max));
}

v1::DaySheet read_tables(Reader& top, DayReading& day) {
    read_gear(top, Sourced::may, day.gear);
    read_rules(top, day.gear);
    top.table(
        "day", "day", [&](Reader& head) { read_head(head, day); }, Need::required);
    top.table(
        "field", "field", [&](Reader& field) { read_field(field, day); }, Need::required);
    top.tables("pilot", pilots_max, [&](Reader& pilot, std::size_t) { read_pilot(pilot, day); });
    top.tables("relay", relays_max, [&](Reader& relay, std::size_t) { read_relay(relay, day); });
    top.finish();
    check_distinct_channels(top, day.sheet);
    put_used_gear(day);
    return std::move(day.sheet);
}

}  // namespace

std::optional<v1::DaySheet> read_day(std::string_view text, const std::string& file,
                                     Problems& problems) {
    const auto before = problems.size();
    auto table = parse_toml(text, file, problems);
    if (!table) return std::nullopt;
    auto kits = unpack_kits(*table, file, library().kits(), {}, problems);
    DayReading day(*table);
    *day.sheet.mutable_kits() = std::move(kits);
    Reader top(*table, file, "", problems);
    auto sheet = read_tables(top, day);
    if (problems.size() == before) return sheet;
    tidy(problems, file);
    return std::nullopt;
}

std::optional<v1::DaySheet> load_day(const std::string& path, Problems& problems) {
    std::error_code error;
    if (std::filesystem::is_directory(path, error)) {
        problems.push_back({path, 0, "", "is a folder", "a day file", ""});
        return std::nullopt;
    }
    std::ifstream in(path, std::ios::binary);
    if (!in) {
        problems.push_back({path, 0, "", fmt::format("cannot be read: {}", std::strerror(errno)),
                            "a day file; 'fieldpeg new' writes one", ""});
        return std::nullopt;
    }
    std::string text(toml_bytes_max + 1, '\0');
    in.read(text.data(), static_cast<std::streamsize>(text.size()));
    text.resize(static_cast<std::size_t>(in.gcount()));
    if (text.size() > toml_bytes_max) {
        problems.push_back(
            {path, 0, "", "is too long", fmt::format("at most {} bytes", toml_bytes_max), ""});
        return std::nullopt;
    }
    return read_day(text, path, problems);
}

}  // namespace fieldpeg::book
