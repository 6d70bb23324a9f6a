#pragma once

#include "server/refusal/refusal.h"

#include "fieldpeg/v1/query.pb.h"

#include <cstdint>
#include <string>
#include <vector>

/// A day's log as a file that may be damaged: no day is opened, nothing in it is changed.
namespace fieldpeg::service {

/// Whether a log is what was written, from its first entry to its last: the chain of hashes, what
/// stands beside the records, that no end is missing of which an answer speaks, and the file
/// itself. The reply has no entries; `last_version` is the last that stands.
Result<v1::LogReply> verified(const std::string& log);

/// What came into a new log.
struct Salvage {
    std::uint64_t entries = 0;
    std::string head_hash;
    std::int64_t at_ms = 0;         ///< of the last entry
    std::string fault;              ///< why no more; empty: nothing is wrong
    std::vector<std::string> lost;  ///< what else is not in it, a sentence each
};

/// Saves what stands in a log before its first bad entry into a new file, from which the day can
/// go on: with names, keys, tickets and answers, as far as they can be read and belong to it.
Result<Salvage> salvage(const std::string& from, const std::string& to);

}  // namespace fieldpeg::service
