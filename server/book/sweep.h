#pragma once

#include "server/book/problem.h"

#include "fieldpeg/v1/sweep.pb.h"

#include <optional>
#include <string>
#include <string_view>

namespace fieldpeg::book {

inline constexpr std::size_t sweep_lines_max = 1'000'000;
inline constexpr std::size_t sweep_bytes_max = 64 << 20;
inline constexpr std::size_t sweep_columns_max = 256;
inline constexpr std::size_t sweep_steps_max = 4000;
inline constexpr double sweep_mhz_min = 1, sweep_mhz_max = 10'000;
inline constexpr double sweep_step_mhz_min = 1e-4, sweep_step_mhz_max = 100;
inline constexpr double sweep_resolution_mhz_min = 1e-6, sweep_resolution_mhz_max = 100;

/// Reads a plain table of frequency and level, as scanners and receivers write them (common
/// practice, no published source): a header that names both columns with their units, then a line
/// each, by rising frequency; separated by commas, semicolons or tabs; lines that begin with # are
/// remarks, of which "# resolution_khz = 250" is read. What is finer than `sweep_steps_max` steps
/// is put together, the greatest level of each counting. All that is wrong goes on the list.
std::optional<v1::Sweep> read_sweep(std::string_view text, const std::string& file,
                                    Problems& problems);

}  // namespace fieldpeg::book
