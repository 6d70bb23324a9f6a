#pragma once

#include "server/refusal/refusal.h"

#include <cstddef>
#include <cstdint>
#include <memory>
#include <optional>
#include <string>
#include <string_view>

/// How messages are laid on the wire: four bytes of length, the highest first, then a Protobuf
/// message of that length (docs/protocol.md).
namespace fieldpeg::wire {

/// Of what goes over the wire; a client of another version is told so and let go.
inline constexpr std::uint32_t protocol_version = 1;

inline constexpr std::size_t length_bytes = 4;
/// Longest message that a client may send; a day's gear as TOML fits several times over.
inline constexpr std::size_t client_frame_max = std::size_t{256} * 1024;
/// Longest that a server sends: a whole log.
inline constexpr std::size_t server_frame_max = std::size_t{64} * 1024 * 1024;
/// Longest before somebody has said who they are.
inline constexpr std::size_t hello_frame_max = 1024;

/// A message takes at most so many times the memory of the longest that may come: of two bytes
/// each, empty parts would take a hundred times theirs.
inline constexpr std::size_t room_times = 4;

/// One encoded message, shared by everyone it is sent to.
using Frame = std::shared_ptr<const std::string>;

/// A message with its length before it.
template <class Message>
Frame frame(const Message& message) {
    const auto body = message.SerializeAsString();
    const auto size = static_cast<std::uint32_t>(body.size());
    auto bytes = std::make_shared<std::string>();
    bytes->reserve(length_bytes + body.size());
    for (int shift = 24; shift >= 0; shift -= 8)
        *bytes += static_cast<char>((size >> shift) & 0xff);
    *bytes += body;
    return bytes;
}

/// The length that a frame's first four bytes give; refuses an empty frame and one that is longer
/// than `most`. Requires four bytes.
Result<std::size_t> body_size(std::string_view head, std::size_t most);

}  // namespace fieldpeg::wire
