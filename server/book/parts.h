#pragma once

#include "server/book/problem.h"

#include "fieldpeg/v1/day.pb.h"
#include "fieldpeg/v1/event.pb.h"

#include <optional>
#include <string>
#include <string_view>

namespace fieldpeg::book {

/// Parts of a day that are entered while it goes on.
struct Parts {
    v1::DaySheet sheet;      ///< only the parts and the gear that they use; its head is the day's
    bool says_head = false;  ///< whether anything of the head is written
    v1::PartsGone gone;      ///< places and areas that are taken away, as the day spells them
};

/// Reads parts of a day, written as in a day file: [day] and the head of [field], of which what is
/// not written stays; [[field.place]], [[field.area]], [[pilot]], [[relay]] and gear, each new or
/// in the place of one of its name in `base`; and [gone], which a day file does not have. Claims
/// are not part of it.
std::optional<Parts> read_parts(std::string_view text, const std::string& file,
                                const v1::DaySheet& base, Problems& problems);

}  // namespace fieldpeg::book
