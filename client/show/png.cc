#include "client/show/png.h"

#include <boost/crc.hpp>

#include <cstddef>
#include <cstdint>

namespace fieldpeg::show {
namespace {

using namespace std::string_view_literals;

constexpr auto signature = "\x89PNG\r\n\x1a\n"sv;
constexpr std::size_t header_end = 8 + 4 + 4 + 13 + 4;  ///< signature and IHDR [PNG, 5.2, 11.2.2]
constexpr auto kind = "tEXt"sv;                         // [PNG, 11.3.4.3]
constexpr auto note = "Software\0fieldpeg"sv;

std::string big_endian(std::uint32_t number) {
    std::string bytes;
    for (const int shift : {24, 16, 8, 0}) bytes += static_cast<char>((number >> shift) & 0xff);
    return bytes;
}

/// Length, kind, data, and the CRC of kind and data [PNG, 5.3].
std::string chunk() {
    const auto body = std::string(kind) + std::string(note);
    boost::crc_32_type crc;
    crc.process_bytes(body.data(), body.size());
    return big_endian(static_cast<std::uint32_t>(note.size())) + body + big_endian(crc.checksum());
}

}  // namespace

std::string with_maker(std::string png) {
    if (png.starts_with(signature) && png.size() > header_end) png.insert(header_end, chunk());
    return png;
}

bool is_own_png(std::string_view beginning) {
    return beginning.starts_with(signature) && beginning.size() > header_end &&
           beginning.substr(header_end).starts_with(chunk());
}

}  // namespace fieldpeg::show
