#pragma once

#include "server/log/archive.h"
#include "server/refusal/refusal.h"

#include <string>

namespace fieldpeg::service {

/// A day's log into an archive: held against itself first, from its first entry to its last, and
/// read for what is asked of an archive: who flew when. Refuses one that does not hold.
Result<log::Archive::Pushed> push(const std::string& log, log::Archive& archive);

/// A day in the archive's database that servers held and none holds any more: from now on one of
/// the archive.
Result<log::ArchivedDay> close(const std::string& day, log::Archive& archive);

}  // namespace fieldpeg::service
