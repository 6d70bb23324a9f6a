#pragma once

#include "server/book/problem.h"

#include "fieldpeg/v1/day.pb.h"

#include <optional>
#include <string>
#include <string_view>

namespace fieldpeg::book {

inline constexpr std::size_t pilots_max = 500;
inline constexpr std::size_t relays_max = 200;
inline constexpr std::size_t places_max = 500;
inline constexpr std::size_t areas_max = 100;
inline constexpr std::size_t emitters_max = 50;
inline constexpr std::size_t receivers_max = 8;  ///< of one pilot or relay
inline constexpr std::size_t channels_max = 64;  ///< of one transmitter or receiver
inline constexpr std::size_t powers_max = 32;

/// Reads a day file (docs/formats.md). All that is wrong with it goes on the list at once; a sheet
/// comes back only if nothing is.
std::optional<v1::DaySheet> read_day(std::string_view text, const std::string& file,
                                     Problems& problems);

/// The same from a file on disk, of which no more than the limit is read.
std::optional<v1::DaySheet> load_day(const std::string& path, Problems& problems);

}  // namespace fieldpeg::book
