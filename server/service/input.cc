#include "server/service/input.h"

#include "server/book/channels.h"
#include "server/spectrum/units.h"

#include <fmt/format.h>

namespace fieldpeg::service {

using spectrum::Refusal;

std::optional<Refusal> outside(const char* what, double value, double low, double high) {
    if (value >= low && value <= high) return std::nullopt;
    return Refusal{Refusal::Kind::out_of_range, what, fmt::format("{:g} is out of range", value),
                   fmt::format("from {:g} to {:g}", low, high)};
}

std::optional<Refusal> outside_channel(const char* what, const v1::Channel& channel) {
    return outside(what, channel.mhz(), book::channel_mhz_min, book::channel_mhz_max);
}

std::optional<Refusal> outside_power(const char* what, double power_dbm) {
    return outside(what, power_dbm, spectrum::power_min.count(), spectrum::power_max.count());
}

}  // namespace fieldpeg::service
