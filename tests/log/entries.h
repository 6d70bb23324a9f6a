#pragma once

#include "server/log/day_log.h"

#include <cstdint>
#include <string>
#include <vector>

namespace fieldpeg::testing {

/// SHA-256 by another function than the one that the log uses.
std::string digest_of(const std::string& bytes);

/// Not text, as a record is: with a zero byte and a quote in it.
std::string record_of(std::uint64_t version);
log::Entry entry_of(std::uint64_t version);
/// A batch of one.
log::Batch batch_of(std::uint64_t version);

std::vector<log::Entry> entries_of(const log::DayLog& log, std::uint64_t after = 0,
                                   std::uint64_t up_to = UINT64_MAX);

}  // namespace fieldpeg::testing
