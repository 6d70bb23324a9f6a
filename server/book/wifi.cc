#include "server/book/wifi.h"

#include <fmt/format.h>

namespace fieldpeg::book {
namespace {

constexpr double start_2g4_mhz = 2407, start_5g_mhz = 5000, step_mhz = 5;
constexpr double channel_14_mhz = 2484;  // Japan's own, off the step

/// The numbers on 5 GHz: channels of 20 MHz beside each other, in three blocks.
struct Block {
    int first, last;
};
constexpr Block blocks_5g[] = {{36, 64}, {100, 144}, {149, 177}};

Refusal no_channel(int number) {
    return {Refusal::Kind::out_of_range, "wifi", fmt::format("there is no channel {}", number),
            "1 to 14 on 2.4 GHz; 36 to 64, 100 to 144 and 149 to 177 in steps of 4 on 5 GHz"};
}

}  // namespace

Result<double> wifi_mhz(int number, double width_mhz) {
    const bool wide = width_mhz > 20;
    if (number >= 1 && number <= 14) {
        if (wide)
            return Refusal{Refusal::Kind::conflict, "width_mhz",
                           "on 2.4 GHz a number does not tell where 40 MHz lie",
                           "its centre in MHz: channel = 2422"};
        return number == 14 ? channel_14_mhz : start_2g4_mhz + step_mhz * number;
    }
    for (const auto& block : blocks_5g) {
        if (number < block.first || number > block.last || (number - block.first) % 4 != 0)
            continue;
        if (!wide) return start_5g_mhz + step_mhz * number;
        const int lower = number - (number - block.first) % 8;
        if (lower + 4 > block.last) break;
        return start_5g_mhz + step_mhz * (lower + 2);
    }
    if (wide && number >= 1)
        for (const auto& block : blocks_5g)  // the number of 40 MHz themselves: 38, 46, ...
            if (number > block.first && number < block.last && (number - block.first) % 8 == 2)
                return start_5g_mhz + step_mhz * number;
    return no_channel(number);
}

}  // namespace fieldpeg::book
