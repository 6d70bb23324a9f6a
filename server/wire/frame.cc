#include "server/wire/frame.h"

#include <fmt/format.h>
#include <boost/assert.hpp>

namespace fieldpeg::wire {

Result<std::size_t> body_size(std::string_view head, std::size_t most) {
    BOOST_ASSERT(head.size() == length_bytes);
    std::size_t size = 0;
    for (const char c : head) size = (size << 8) | static_cast<unsigned char>(c);
    if (size == 0) return Refusal{Refusal::Kind::malformed, "frame", "is empty", ""};
    if (size > most)
        return Refusal{Refusal::Kind::out_of_range, "frame", fmt::format("is {} bytes long", size),
                       fmt::format("at most {}", most)};
    return size;
}

}  // namespace fieldpeg::wire
