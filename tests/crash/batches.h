#pragma once

#include "server/log/day_log.h"

#include <cstddef>
#include <cstdint>
#include <string>

namespace fieldpeg::testing {

inline constexpr std::uint64_t entries_in_a_batch = 2;

/// What an entry of this version has in it, whatever becomes of the disk.
inline std::string record_of(std::uint64_t version, std::size_t bytes) {
    std::string record = "record " + std::to_string(version) + ' ';
    record.resize(bytes, static_cast<char>('a' + version % 26));
    return record;
}

/// The batches of a log, from 1: entries, an answer and a name.
inline log::Batch batch_of(std::uint64_t number, std::size_t record_bytes) {
    log::Batch batch;
    for (std::uint64_t i = 1; i <= entries_in_a_batch; ++i) {
        log::Entry e;
        e.version = (number - 1) * entries_in_a_batch + i;
        e.kind = "claimed";
        e.record = record_of(e.version, record_bytes);
        batch.entries.push_back(std::move(e));
    }
    batch.answers.push_back({1, std::to_string(number), "yes"});
    batch.names[static_cast<std::uint32_t>(number)] = "somebody";
    return batch;
}

}  // namespace fieldpeg::testing
