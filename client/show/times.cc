#include "client/show/times.h"

#include <date/tz.h>
#include <fmt/format.h>

#include <charconv>
#include <chrono>
#include <cstdlib>
#include <ctime>
#include <exception>
#include <initializer_list>
#include <regex>
#include <sstream>
#include <vector>

namespace fieldpeg::show {
namespace {

using date::local_seconds;
using date::sys_seconds;
using std::chrono::milliseconds;
using std::chrono::minutes;
using std::chrono::seconds;

constexpr std::int64_t second_ms = 1000;
/// No zone is further from UTC.
constexpr auto offset_max = std::chrono::hours(14);
constexpr auto half_a_day = std::chrono::hours(12);

/// What TZ says; none if it is not set.
std::optional<std::string> zone_name() {
    const char* set = std::getenv("TZ");
    if (!set) return std::nullopt;
    const std::string name = *set == ':' ? set + 1 : set;
    return name.empty() ? "UTC" : name;
}

/// The zone of this machine; null if the machine has no data about it.
const date::time_zone* zone() {
    try {
        const auto name = zone_name();
        const auto* found = name ? date::locate_zone(*name) : date::current_zone();
        found->get_info(sys_seconds());  // reads its data, which may be missing too
        return found;
    } catch (const std::exception&) {
        return nullptr;
    }
}

sys_seconds whole_seconds(std::int64_t at_ms) {
    return date::floor<seconds>(date::sys_time<milliseconds>(milliseconds(at_ms)));
}

/// What the clock shows, and how far that is from UTC.
struct Shown {
    local_seconds time;
    seconds offset;
};

Shown shown(std::int64_t at_ms) {
    const auto at = whole_seconds(at_ms);
    seconds offset{};
    if (const auto* here = zone()) {
        offset = here->get_info(at).offset;
    } else {
        const std::time_t count = at.time_since_epoch().count();
        std::tm parts{};
        ::localtime_r(&count, &parts);
        offset = seconds(parts.tm_gmtoff);
    }
    return {local_seconds(at.time_since_epoch() + offset), offset};
}

std::string text_of(const Shown& shown, const char* format) {
    std::ostringstream text;
    date::to_stream(text, format, shown.time, nullptr, &shown.offset);
    return text.str();
}

/// How far from UTC the clock may be when it shows a time: two offsets where it is set back over
/// it, none where it is set forward, and from what to what.
struct Readings {
    std::vector<seconds> offsets;
    std::string skipped = {};
};

Readings readings_in(const date::time_zone& here, local_seconds time) {
    const auto info = here.get_info(time);
    if (info.result == date::local_info::unique) return {{info.first.offset}};
    if (info.result == date::local_info::ambiguous)
        return {{info.first.offset, info.second.offset}};
    const Shown before{local_seconds(info.first.end.time_since_epoch() + info.first.offset), {}};
    const Shown after{local_seconds(info.second.begin.time_since_epoch() + info.second.offset), {}};
    return {{}, fmt::format(" from {} to {}", text_of(before, "%R"), text_of(after, "%R"))};
}

/// The same as the C library has it, which must be told whether it is summer.
Readings readings_of_system(local_seconds time) {
    Readings readings;
    const std::time_t as_utc = time.time_since_epoch().count();
    for (const int is_summer : {1, 0}) {
        std::tm parts{};
        ::gmtime_r(&as_utc, &parts);
        parts.tm_isdst = is_summer;
        const auto at = seconds(std::mktime(&parts));
        const auto offset = seconds(parts.tm_gmtoff);
        if (parts.tm_isdst == is_summer && at + offset == time.time_since_epoch())
            readings.offsets.push_back(offset);
    }
    return readings;
}

Refusal no_moment(std::string_view written, std::string why, std::string next = "") {
    return {Refusal::Kind::malformed, "", fmt::format("'{}' {}", written, why),
            next.empty() ? "14:32, 14:32:05, 2026-09-19 14:32, or #120 for an entry of the log"
                         : std::move(next)};
}

/// A local time and the offset behind it, if one is.
struct Written {
    local_seconds time;
    std::optional<seconds> offset;
};

std::optional<Written> read_as(const std::string& text, const std::string& format) {
    std::istringstream in(text);
    Written written{};
    auto offset = minutes::max();
    in >> date::parse(format, written.time, offset);
    if (in.fail() || in.peek() != std::istringstream::traits_type::eof()) return std::nullopt;
    if (offset == minutes::max()) return written;
    if (date::abs(offset) > offset_max) return std::nullopt;
    written.offset = offset;
    return written;
}

/// The format that a time is written in. None: it is no time; date's parser is not to see it, since
/// it goes on with numbers that it has not read.
std::optional<std::string> format_of(const std::string& text) {
    constexpr std::size_t longest = 40;
    static const std::regex shape(
        R"re(\d{1,4}-\d{1,2}-\d{1,2} +\d{1,2}:\d{1,2}(:\d{1,2})? *([+-]\d{1,2}(:?)\d{2})?)re");
    std::smatch found;
    if (text.size() > longest || !std::regex_match(text, found, shape)) return std::nullopt;
    const bool has_colon = found[3].length() > 0;
    return fmt::format("%F {}{}", found[1].matched ? "%T" : "%R",
                       !found[2].matched ? ""
                       : has_colon       ? " %Ez"
                                         : " %z");
}

std::optional<Written> read_dated(const std::string& text) {
    const auto format = format_of(text);
    return format ? read_as(text, *format) : std::nullopt;
}

/// A time without its date, on that of another.
std::optional<Written> read_undated(const std::string& text, local_seconds on) {
    return read_dated(text_of({on, {}}, "%F ") + text);
}

Result<seconds> offset_of(std::string_view text, local_seconds time) {
    const auto* here = zone();
    const auto readings = here ? readings_in(*here, time) : readings_of_system(time);
    if (readings.offsets.size() == 1) return readings.offsets.front();
    const auto day = text_of({time, {}}, "%F");
    if (readings.offsets.empty())
        return no_moment(
            text,
            fmt::format("does not come on {}: the clock is set forward{}", day, readings.skipped),
            "a time before or after that, or #120 for an entry of the log");
    return no_moment(
        text, fmt::format("comes twice on {}: the clock is set back", day),
        fmt::format("the first time is {0}{1}, the second {0}{2}; or #120 for an entry of the log",
                    text, text_of({time, readings.offsets[0]}, "%z"),
                    text_of({time, readings.offsets[1]}, "%z")));
}

Result<v1::Moment> moment_of(std::string_view text, const std::optional<Written>& written) {
    if (!written) return no_moment(text, "is no time");
    auto offset = written->offset;
    if (!offset) {
        const auto found = offset_of(text, written->time);
        if (!found) return found.error();
        offset = *found;
    }
    v1::Moment moment;
    const auto at = written->time.time_since_epoch() - *offset;
    moment.set_at_ms(at.count() * second_ms + (second_ms - 1));
    return moment;
}

Result<v1::Moment> read_version(std::string_view written) {
    v1::Moment moment;
    std::uint64_t version = 0;
    const auto digits = written.substr(1);
    const auto [end, error] =
        std::from_chars(digits.data(), digits.data() + digits.size(), version);
    if (error != std::errc{} || end != digits.data() + digits.size() || version == 0)
        return no_moment(written, "is no entry of the log");
    moment.set_version(version);
    return moment;
}

}  // namespace

std::string clock_text(std::int64_t at_ms) {
    return text_of(shown(at_ms), "%T");
}

std::string date_text(std::int64_t at_ms) {
    return text_of(shown(at_ms), "%F");
}

std::string date_time_text(std::int64_t at_ms) {
    return text_of(shown(at_ms), "%F %T %z");
}

std::string ago_text(std::int64_t ms) {
    const auto seconds = ms / second_ms;
    if (seconds < 120) return fmt::format("{} s", seconds);
    if (seconds < 7200) return fmt::format("{} min", seconds / 60);
    return fmt::format("{} h {} min", seconds / 3600, seconds / 60 % 60);
}

bool has_no_date(std::string_view written) {
    return !written.starts_with('#') && !format_of(std::string(written));
}

Result<v1::Moment> read_moment(std::string_view written, std::int64_t first_ms,
                               std::int64_t last_ms) {
    if (written.starts_with('#')) return read_version(written);
    const std::string text(written);
    if (!has_no_date(written)) return moment_of(written, read_dated(text));
    const auto last = shown(last_ms).time;
    auto time = read_undated(text, last);
    const bool began_before =
        date::floor<date::days>(shown(first_ms).time) < date::floor<date::days>(last);
    if (time && began_before && time->time - last > half_a_day) time->time -= date::days(1);
    return moment_of(written, time);
}

Result<v1::Moment> read_end(std::string_view written, std::int64_t from_ms) {
    const auto from = shown(from_ms).time;
    auto time = has_no_date(written) ? read_undated(std::string(written), from)
                                     : read_dated(std::string(written));
    if (time && has_no_date(written) && time->time < from) time->time += date::days(1);
    return moment_of(written, time);
}

std::optional<std::string> zone_doubt() {
    if (zone()) return std::nullopt;
    const auto name = zone_name();
    return fmt::format(
        "this machine has no data about {} (package tzdata): times are as its own clock shows "
        "them, now {}",
        name ? fmt::format("the time zone '{}'", *name) : "its time zone",
        text_of(shown(std::int64_t{std::time(nullptr)} * second_ms), "%R %z"));
}

}  // namespace fieldpeg::show
