#pragma once

#include <string>
#include <vector>

namespace fieldpeg::day {

/// "+1.2", "-0.04", "0.0": what is short shows its sign, which decides a verdict; "-" of no number.
std::string db_text(double value);

/// "Ann", "Ann, Ben and Cyd", "Ann, Ben and 6 others".
std::string names_text(const std::vector<std::string>& names);

}  // namespace fieldpeg::day
