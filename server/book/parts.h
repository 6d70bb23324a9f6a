#pragma once

#include "server/book/problem.h"

#include "fieldpeg/v1/day.pb.h"

#include <optional>
#include <string>
#include <string_view>

namespace fieldpeg::book {

/// Reads parts of a day, written as in a day file: [[field.place]], [[field.area]], [[pilot]],
/// [[relay]] and gear, each new or in the place of one of its name in `base`. Claims are not part
/// of it. What comes back holds only the parts and the gear that they use.
std::optional<v1::DaySheet> read_parts(std::string_view text, const std::string& file,
                                       const v1::DaySheet& base, Problems& problems);

}  // namespace fieldpeg::book
