#pragma once

#include <boost/beast/core/error.hpp>
#include <boost/beast/zlib/inflate_stream.hpp>
#include <boost/crc.hpp>

#include <cstddef>
#include <cstdint>
#include <stdexcept>
#include <string>
#include <string_view>

namespace fieldpeg::testing {

/// By Beast, whose inflating is another's than that by which it was made. Throws if it is no gzip,
/// or its sum is wrong [RFC1952, 2.3].
inline std::string gunzipped(std::string_view bytes) {
    constexpr std::size_t head = 10, foot = 8;
    if (bytes.size() < head + foot || !bytes.starts_with("\x1f\x8b\x08"))
        throw std::invalid_argument("no gzip");
    const auto number = [&](std::size_t from_end) {
        std::uint32_t n = 0;
        for (std::size_t i = 0; i < 4; ++i)
            n |= std::uint32_t{static_cast<unsigned char>(bytes[bytes.size() - from_end + i])}
                 << (8 * i);
        return n;
    };
    std::string out(number(4), '\0');
    boost::beast::zlib::z_params z;
    z.next_in = bytes.data() + head;
    z.avail_in = bytes.size() - head - foot;
    z.next_out = out.data();
    z.avail_out = out.size();
    boost::beast::error_code error;
    boost::beast::zlib::inflate_stream().write(z, boost::beast::zlib::Flush::finish, error);
    boost::crc_32_type sum;
    sum.process_bytes(out.data(), out.size());
    if (error != boost::beast::zlib::error::end_of_stream || z.total_out != out.size() ||
        sum.checksum() != number(8))
        throw std::invalid_argument("cut short, or changed");
    return out;
}

}  // namespace fieldpeg::testing
