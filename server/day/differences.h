#pragma once

#include "fieldpeg/v1/command.pb.h"
#include "fieldpeg/v1/day.pb.h"
#include "fieldpeg/v1/event.pb.h"

#include <string>
#include <vector>

namespace fieldpeg::day {

/// What stands at the head of a day: its name, its field's, its limit, the services to keep clear
/// of.
v1::HeadSet head_of(const v1::DaySheet& sheet);

/// Where a day file says something else than the day, thing by thing. What is held, seen and swept
/// is not compared: the day is ahead of its file by nature. Of gear only what both have.
std::vector<v1::Difference> differences(const v1::DaySheet& day, const v1::DaySheet& file);

/// "pilot Hugo: power 25 mW -> 25 mW, 200 mW; place line-1 -> line-2".
std::string difference_text(const v1::Difference& difference);

}  // namespace fieldpeg::day
