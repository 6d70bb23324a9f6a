#include "server/day/phrases.h"

#include <fmt/format.h>

#include <cmath>

namespace fieldpeg::day {

std::string db_text(double value) {
    if (!std::isfinite(value)) return "-";
    if (value > -0.0005 && value < 0.005) return "0.0";
    if (std::abs(value) < 0.005) return fmt::format("{:+.3f}", value);
    if (std::abs(value) < 0.05) return fmt::format("{:+.2f}", value);
    return fmt::format("{:+.1f}", value);
}

std::string names_text(const std::vector<std::string>& names) {
    constexpr std::size_t all_told = 3, told = 2;
    if (names.size() == 1) return names.front();
    if (names.size() > all_told)
        return fmt::format("{}, {} and {} others", names[0], names[1], names.size() - told);
    const auto last = names.end() - 1;
    return fmt::format("{} and {}", fmt::join(names.begin(), last, ", "), *last);
}

}  // namespace fieldpeg::day
