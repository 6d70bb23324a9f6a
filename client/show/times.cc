#include "client/show/times.h"

#include <fmt/chrono.h>
#include <fmt/format.h>

#include <charconv>
#include <ctime>

namespace fieldpeg::show {
namespace {

constexpr std::int64_t second_ms = 1000;

std::tm local(std::int64_t at_ms) {
    const std::time_t seconds = at_ms / second_ms;
    std::tm parts{};
    ::localtime_r(&seconds, &parts);
    return parts;
}

Refusal no_moment(std::string_view written, std::string why) {
    return {Refusal::Kind::malformed, "--at", fmt::format("'{}' {}", written, why),
            "14:32, 14:32:05, 2026-09-19 14:32, or #120 for an entry of the log"};
}

/// The time with a guess at daylight saving; none if the clock never shows it so.
std::int64_t time_of(std::tm parts, int is_dst) {
    const std::tm wanted = parts;
    parts.tm_isdst = is_dst;
    const auto seconds = std::mktime(&parts);
    const bool is_same = parts.tm_hour == wanted.tm_hour && parts.tm_min == wanted.tm_min &&
                         parts.tm_mday == wanted.tm_mday && parts.tm_isdst == is_dst;
    return is_same ? std::int64_t{seconds} : -1;
}

}  // namespace

std::string clock_text(std::int64_t at_ms) {
    return fmt::format("{:%H:%M:%S}", local(at_ms));
}

std::string date_time_text(std::int64_t at_ms) {
    return fmt::format("{:%Y-%m-%d %H:%M:%S %z}", local(at_ms));
}

std::string ago_text(std::int64_t ms) {
    const auto seconds = ms / second_ms;
    if (seconds < 120) return fmt::format("{} s", seconds);
    if (seconds < 7200) return fmt::format("{} min", seconds / 60);
    return fmt::format("{} h {} min", seconds / 3600, seconds / 60 % 60);
}

Result<v1::Moment> read_moment(std::string_view written, std::int64_t day_ms) {
    v1::Moment moment;
    if (written.starts_with('#')) {
        std::uint64_t version = 0;
        const auto digits = written.substr(1);
        const auto [end, error] =
            std::from_chars(digits.data(), digits.data() + digits.size(), version);
        if (error != std::errc{} || end != digits.data() + digits.size() || version == 0)
            return no_moment(written, "is no entry of the log");
        moment.set_version(version);
        return moment;
    }
    std::tm parts = local(day_ms);
    parts.tm_sec = 0;
    const std::string text(written);
    const char* end = nullptr;
    for (const char* format : {"%Y-%m-%d %H:%M:%S", "%Y-%m-%d %H:%M", "%H:%M:%S", "%H:%M"}) {
        std::tm tried = parts;
        end = ::strptime(text.c_str(), format, &tried);
        if (!end || *end != '\0') continue;
        const auto winter = time_of(tried, 0);
        const auto summer = time_of(tried, 1);
        if (winter >= 0 && summer >= 0 && winter != summer)
            return no_moment(
                written, "comes twice that day, the clock is set back; give the entry's number");
        if (winter < 0 && summer < 0) return no_moment(written, "does not come that day");
        moment.set_at_ms((winter >= 0 ? winter : summer) * second_ms + (second_ms - 1));
        return moment;
    }
    return no_moment(written, "is no time");
}

}  // namespace fieldpeg::show
