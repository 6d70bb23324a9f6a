#pragma once

#include "server/refusal/refusal.h"

/// Channels of wireless networks by their numbers (IEEE 802.11, clause "Channel numbering": centre
/// = start of the band + 5 MHz x number).
namespace fieldpeg::book {

/// The centre of a channel 20 or 40 MHz wide, in MHz. On 5 GHz a channel of 40 MHz is that which
/// holds the number; on 2.4 GHz its number does not tell where it lies. Refuses numbers that there
/// are not.
Result<double> wifi_mhz(int number, double width_mhz);

}  // namespace fieldpeg::book
