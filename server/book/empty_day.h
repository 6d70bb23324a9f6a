#pragma once

#include "fieldpeg/v1/day.pb.h"

#include <string>

namespace fieldpeg::book {

/// A day of nobody, on a field where pilots can be entered at once (server/data/empty_day.toml). It
/// is called as its file is, or "A flying day" where that is no name for one. `date` is ISO 8601.
v1::DaySheet empty_day(const std::string& file, const std::string& date);

}  // namespace fieldpeg::book
