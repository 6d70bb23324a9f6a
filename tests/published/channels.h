#pragma once

#include "server/spectrum/hits.h"

#include <bit>
#include <cstddef>
#include <cstdint>
#include <initializer_list>
#include <ostream>
#include <span>
#include <vector>

/// Sets of channels and how often their third-order products meet them.
namespace fieldpeg::testing {

inline std::vector<spectrum::Hertz> channels_mhz(std::span<const double> mhz) {
    std::vector<spectrum::Hertz> channels;
    for (const double f : mhz) channels.push_back(spectrum::from_mhz(f));
    return channels;
}
inline std::vector<spectrum::Hertz> channels_mhz(std::initializer_list<double> mhz) {
    return channels_mhz(std::vector<double>(mhz));
}

/// Marks of a ruler as channels 1 MHz apart, far enough up that no product turns at zero.
inline std::vector<spectrum::Hertz> channels_at(std::span<const double> marks) {
    constexpr double up_mhz = 100'000;
    std::vector<spectrum::Hertz> channels;
    for (const double mark : marks) channels.push_back(spectrum::from_mhz(up_mhz + mark));
    return channels;
}
inline std::vector<spectrum::Hertz> channels_at(std::initializer_list<double> marks) {
    return channels_at(std::vector<double>(marks));
}

struct HitCount {
    std::ptrdiff_t two_signal = 0;
    std::ptrdiff_t three_signal = 0;

    bool operator==(const HitCount&) const = default;
};
inline void PrintTo(const HitCount& count, std::ostream* out) {
    *out << count.two_signal << " two-signal, " << count.three_signal << " three-signal";
}

/// Products that fall on a channel exactly.
inline HitCount exact_hits(std::span<const spectrum::Hertz> channels) {
    HitCount count;
    for (const auto& hit : spectrum::third_order_hits(channels, spectrum::Hertz(0)))
        ++(hit.from.size() == 2 ? count.two_signal : count.three_signal);
    return count;
}

/// All ways to choose `least` to `most` numbers out of 0..last.
template <class Visit>
void for_each_subset(unsigned last, int least, int most, Visit visit) {
    for (std::uint32_t bits = 0; bits < (1U << (last + 1)); ++bits) {
        if (std::popcount(bits) < least || std::popcount(bits) > most) continue;
        std::vector<double> marks;
        for (unsigned mark = 0; mark <= last; ++mark)
            if ((bits >> mark & 1U) != 0) marks.push_back(mark);
        visit(marks);
    }
}

}  // namespace fieldpeg::testing
