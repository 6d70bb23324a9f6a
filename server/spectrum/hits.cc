#include "server/spectrum/hits.h"

#include "server/spectrum/intermodulation.h"

#include <algorithm>
#include <utility>

namespace fieldpeg::spectrum {

std::vector<Hit> third_order_hits(std::span<const Hertz> channels, Hertz reach) {
    std::vector<Hit> hits;
    const auto meet = [&](std::vector<std::size_t> from, Hertz product) {
        for (std::size_t on = 0; on < channels.size(); ++on) {
            const Hertz offset = distance(product, channels[on]);
            if (offset <= reach && std::ranges::find(from, on) == from.end())
                hits.push_back({from, on, product, offset});
        }
    };
    for (std::size_t a = 0; a < channels.size(); ++a) {
        for (std::size_t b = 0; b < channels.size(); ++b) {
            if (b == a) continue;
            meet({a, b}, two_signal_frequency(channels[a], channels[b]));
            for (std::size_t c = 0; b > a && c < channels.size(); ++c)
                if (c != a && c != b)
                    meet({a, b, c}, three_signal_frequency(channels[a], channels[b], channels[c]));
        }
    }
    std::ranges::stable_sort(hits, {}, &Hit::offset);
    return hits;
}

}  // namespace fieldpeg::spectrum
