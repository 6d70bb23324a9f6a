#include "server/spectrum/intermodulation.h"

#include <cmath>

namespace fieldpeg::spectrum {
namespace {

double square(double x) {
    return x * x;
}

}  // namespace

Dbm two_signal_product(Dbm a, Dbm b, Dbm iip3, bool a_constant_envelope) {
    const double noise_like_db = a_constant_envelope ? 0 : 10 * std::log10(2.0);
    return Dbm(2 * a.count() + b.count() - 2 * iip3.count() + noise_like_db);  // [Pozar, ch. 10]
}

Dbm three_signal_product(Dbm a, Dbm b, Dbm c, Dbm iip3) {
    return Dbm(a.count() + b.count() + c.count() - 2 * iip3.count() +
               20 * std::log10(2.0));  // [Pozar, ch. 10]
}

double two_signal_sigma_mhz(const ProductShape& a, const ProductShape& b) {
    const double stretch = a.constant_envelope ? 4 : 2;
    return std::sqrt(stretch * square(a.sigma_mhz) + square(b.sigma_mhz));
}

double three_signal_sigma_mhz(const ProductShape& a, const ProductShape& b, const ProductShape& c) {
    return std::sqrt(square(a.sigma_mhz) + square(b.sigma_mhz) + square(c.sigma_mhz));
}

}  // namespace fieldpeg::spectrum
