#pragma once

#include <string>
#include <string_view>

/// A fingerprint as two people compare it: one reads from a screen, one from a phone.
namespace fieldpeg::wire {

/// Letters of a fingerprint that are spelled out: 50 bits.
inline constexpr std::size_t letters_spelled = 10;

/// The first letters of it in base 32, as radio people spell [ICAO-ANNEX-10, Volume II, 5.2.1.3]:
/// "kilo alfa seven ...".
std::string spelled(std::string_view fingerprint);

/// "3A:9F:..." as browsers show it, all of it.
std::string hex_pairs(std::string_view fingerprint);

}  // namespace fieldpeg::wire
