#include "server/refusal/refusal.h"

#include <fmt/format.h>

namespace fieldpeg {

std::optional<Refusal> outside(const char* what, double value, double low, double high) {
    if (value >= low && value <= high) return std::nullopt;
    return Refusal{Refusal::Kind::out_of_range, what, fmt::format("{:g} is out of range", value),
                   fmt::format("from {:g} to {:g}", low, high)};
}

}  // namespace fieldpeg
