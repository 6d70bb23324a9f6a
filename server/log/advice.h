#pragma once

namespace fieldpeg::log {

/// What to do with a log that is damaged.
inline constexpr const char* keep_it =
    "keep it as it is; what stands before the damage: fieldpeg log salvage FILE --to NEW.daylog";

}  // namespace fieldpeg::log
