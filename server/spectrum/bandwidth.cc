#include "server/spectrum/bandwidth.h"

#include <fmt/format.h>
#include <boost/assert.hpp>

#include <algorithm>
#include <cmath>

namespace fieldpeg::spectrum {

Hertz necessary_bandwidth_fm(Hertz highest_modulating, Hertz peak_deviation, double k) {
    const auto m = static_cast<double>(highest_modulating.count());
    const auto d = static_cast<double>(peak_deviation.count());
    return Hertz(std::llround(2 * m + 2 * d * k));  // [SM.1138-3, FM]
}

std::string bandwidth_symbol(double hertz) {
    BOOST_ASSERT(hertz >= 0.001 && hertz < 999.5e9);
    double value = hertz;
    std::string_view letters = "HKMG";
    while (value >= 999.5 && letters.size() > 1) {  // 999.5 would round to a fourth figure
        value /= 1000;
        letters.remove_prefix(1);
    }
    if (value >= 0.9995) value = std::max(value, 1.0);  // rounds up to a first figure
    int decimals = 2;
    if (value >= 99.95)
        decimals = 0;
    else if (value >= 9.995)
        decimals = 1;
    const double scale = std::pow(10, value < 1 ? 3 : decimals);
    const double rounded = std::floor(value * scale + 0.5 + 1e-9) / scale;        // half up
    if (value < 1) return fmt::format("{}{:03.0f}", letters[0], rounded * 1000);  // H002
    auto text = fmt::format("{:.{}f}", rounded, decimals);
    const auto point = text.find('.');
    if (point == std::string::npos) return text + letters[0];
    text[point] = letters[0];
    return text;
}

Dbm eirp_of_field_strength(double volts_per_metre, Metres distance) {
    const double ed = volts_per_metre * distance.count();
    return dbm(1000 * ed * ed / 30);  // [P.525-5, field strength]
}

}  // namespace fieldpeg::spectrum
