#pragma once

#include "fieldpeg/v1/day.pb.h"

#include <string>
#include <vector>

namespace fieldpeg::service {

/// Where a day file says something else than the day as the log has it, a line each. Claims are
/// not compared: the log is ahead of the file by nature.
std::vector<std::string> differences(const v1::DaySheet& file, const v1::DaySheet& log);

}  // namespace fieldpeg::service
