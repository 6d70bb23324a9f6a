#pragma once

#include "server/wire/gate.h"

namespace fieldpeg::testing {

/// Most tests are no people, and faster.
inline constexpr wire::Rate any_rate{1e9, 1e9, 1e9};
inline constexpr wire::Rates unhurried{any_rate, any_rate, any_rate,
                                       any_rate, any_rate, wire::Rates().knocks};

}  // namespace fieldpeg::testing
