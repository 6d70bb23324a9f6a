#pragma once

#include <string>
#include <string_view>

namespace fieldpeg::log {

/// SHA-256 [FIPS.180-4], 32 bytes.
std::string sha256(std::string_view bytes);
/// Bytes as lower-case hexadecimal.
std::string hex(std::string_view bytes);

/// Of an entry: over the hash of the one before it and its record.
std::string chained(const std::string& before, const std::string& record);
/// Before the first.
std::string no_hash();

}  // namespace fieldpeg::log
