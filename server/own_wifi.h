#pragma once

#include <vector>

namespace fieldpeg {

/// The frequencies in MHz that this machine's own wireless interfaces are on, as far as the kernel
/// tells (wireless extensions, which Linux keeps for what joins a network or is one). Empty: it has
/// none, or does not tell.
std::vector<double> own_wifi_mhz();

}  // namespace fieldpeg
