#pragma once

#include <string>
#include <string_view>

namespace fieldpeg::log {

/// SHA-256 [FIPS.180-4], 32 bytes.
std::string sha256(std::string_view bytes);
/// Bytes as lower-case hexadecimal.
std::string hex(std::string_view bytes);

}  // namespace fieldpeg::log
