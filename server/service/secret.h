#pragma once

#include <cstddef>
#include <string>

namespace fieldpeg::service {

inline constexpr std::size_t secret_bytes = 16;  ///< of a ticket
inline constexpr std::size_t key_bytes = 32;     ///< of a person

/// Bytes that nobody can guess.
std::string random_bytes(std::size_t count);

}  // namespace fieldpeg::service
