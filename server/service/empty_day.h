#pragma once

#include "server/refusal/refusal.h"
#include "server/service/keeper.h"

#include "fieldpeg/v1/day.pb.h"

#include <optional>

namespace fieldpeg::service {

/// Whether a day that nobody wrote may begin: where no day was named, or one was asked for.
enum class Unwritten { refused, begins };

/// The day to begin with where there is neither a day file nor a log; none where there is a file or
/// a log, which count. A day that was named and is not there is refused, with what it may be
/// called.
Result<std::optional<v1::DaySheet>> day_if_unwritten(const DayFiles& files, Unwritten unwritten,
                                                     std::int64_t now_ms);

}  // namespace fieldpeg::service
