#include "server/service/input.h"

#include "server/book/channels.h"
#include "server/spectrum/units.h"

namespace fieldpeg::service {

std::optional<Refusal> outside_channel(const char* what, const v1::Channel& channel) {
    return outside(what, channel.mhz(), book::channel_mhz_min, book::channel_mhz_max);
}

std::optional<Refusal> outside_power(const char* what, double power_dbm) {
    return outside(what, power_dbm, spectrum::power_min.count(), spectrum::power_max.count());
}

v1::Basis::Kind basis(v1::Basis::Kind asked) {
    return asked == v1::Basis::on_air ? v1::Basis::on_air : v1::Basis::held;
}

}  // namespace fieldpeg::service
