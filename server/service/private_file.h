#pragma once

#include "server/refusal/refusal.h"

#include <string>

/// Files that only their owner reads: keys, tickets, certificates.
namespace fieldpeg::service {

/// What becomes of a file that is there already.
enum class Existing { stays, goes };

/// Writes a whole file with mode 0600 from its first byte: it appears with all that is in it, on
/// disk, or not at all. Refuses where there is one and it is to stay. One at a time for a path:
/// what an earlier one left beside it is overwritten.
Result<void> write_private(const std::string& path, const std::string& text, Existing existing);

/// Such a file takes the place of another, on disk when this returns.
Result<void> move_private(const std::string& from, const std::string& to);

/// The whole of such a file. Refuses one that others may read.
Result<std::string> read_private(const std::string& path);

}  // namespace fieldpeg::service
