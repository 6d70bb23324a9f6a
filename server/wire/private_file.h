#pragma once

#include "server/refusal/refusal.h"

#include <string>

/// Files that only their owner reads: keys, tickets, certificates.
namespace fieldpeg::wire {

/// What becomes of a file that is there already.
enum class Existing { stays, goes };

/// Writes a whole file with mode 0600 from its first byte, all of it on disk or none. Refuses where
/// there is one and it is to stay.
Result<void> write_private(const std::string& path, const std::string& text, Existing existing);

/// The whole of such a file. Refuses one that others may read.
Result<std::string> read_private(const std::string& path);

}  // namespace fieldpeg::wire
