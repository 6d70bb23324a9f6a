#pragma once

#include "server/log/day_log.h"
#include "server/refusal/refusal.h"

#include <string>

namespace fieldpeg::log {

/// Writes a log of one batch into a file that is not there yet: all of it, on disk, or nothing, and
/// never over another.
Result<void> write_new(const std::string& path, Batch& batch);

}  // namespace fieldpeg::log
