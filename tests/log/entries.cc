#include "tests/log/entries.h"

#include <gtest/gtest.h>
#include <openssl/sha.h>

namespace fieldpeg::testing {

std::string digest_of(const std::string& bytes) {
    std::string digest(SHA256_DIGEST_LENGTH, '\0');
    SHA256(reinterpret_cast<const unsigned char*>(bytes.data()), bytes.size(),
           reinterpret_cast<unsigned char*>(digest.data()));
    return digest;
}

std::string record_of(std::uint64_t version) {
    return std::string("'\0\xff", 3) + "event " + std::to_string(version);
}

log::Entry entry_of(std::uint64_t version) {
    log::Entry e;
    e.version = version;
    e.at_ms = 1'800'000'000'000 + static_cast<std::int64_t>(version);
    e.actor = 3;
    e.subject = 4;
    e.kind = "claimed";
    e.record = record_of(version);
    return e;
}

log::Batch batch_of(std::uint64_t version) {
    log::Batch batch;
    batch.entries.push_back(entry_of(version));
    return batch;
}

std::vector<log::Entry> entries_of(const log::DayLog& log, std::uint64_t after,
                                   std::uint64_t up_to) {
    std::vector<log::Entry> all;
    const auto read = log.each(after, up_to, [&](const log::Entry& e) {
        all.push_back(e);
        return true;
    });
    EXPECT_TRUE(read) << read.error().why;
    return all;
}

}  // namespace fieldpeg::testing
