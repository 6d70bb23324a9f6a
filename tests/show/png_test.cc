#include "client/show/png.h"

#include "client/show/page.h"

#include <gtest/gtest.h>

#include <cstdint>
#include <string>

namespace fieldpeg::show {
namespace {

using namespace std::string_literals;

const auto signature = "\x89PNG\r\n\x1a\n"s;  // [PNG, 5.2]
/// One grey pixel, [PNG, 11.2.2]; its CRC does not matter here.
const auto header = "\0\0\0\rIHDR\0\0\0\1\0\0\0\1\x08\0\0\0\0abcd"s;

/// The CRC as the standard writes it down, bit by bit [PNG, annex D].
std::uint32_t crc_of(const std::string& bytes) {
    std::uint32_t crc = 0xffffffff;
    for (const char byte : bytes) {
        crc ^= static_cast<unsigned char>(byte);
        for (int bit = 0; bit < 8; ++bit) crc = (crc & 1) != 0 ? 0xedb88320 ^ (crc >> 1) : crc >> 1;
    }
    return ~crc;
}

std::uint32_t number_at(const std::string& bytes, std::size_t at) {
    std::uint32_t number = 0;
    for (std::size_t i = at; i < at + 4; ++i)
        number = number << 8 | static_cast<unsigned char>(bytes[i]);
    return number;
}

// "IEND" has the CRC AE426082 in every PNG file there is: the second method is right itself.
TEST(Png, SaysBehindItsHeaderWhatMadeItInAChunkOfItsOwn) {
    ASSERT_EQ(crc_of("IEND"), 0xAE426082);
    const auto png = with_maker(signature + header + "the rest");
    ASSERT_TRUE(png.starts_with(signature + header));
    ASSERT_TRUE(png.ends_with("the rest"));
    const auto chunk = png.substr(signature.size() + header.size());
    const auto length = number_at(chunk, 0);
    const auto body = chunk.substr(4, 4 + length);
    EXPECT_EQ(body, "tEXtSoftware\0fieldpeg"s);  // [PNG, 11.3.4.3]
    EXPECT_EQ(number_at(chunk, 8 + length), crc_of(body));
    EXPECT_EQ(chunk.substr(12 + length), "the rest");
}

TEST(Png, IsKnownAgainAndNobodyElsesIs) {
    const auto png = signature + header + "the rest";
    EXPECT_TRUE(is_own_png(with_maker(png)));
    EXPECT_EQ(page_mark(with_maker(png)), "picture of Fieldpeg's, in PNG");
    for (const auto& other : {png, signature, ""s, "GIF89a"s, "<svg ></svg>"s}) {
        EXPECT_FALSE(is_own_png(other));
        EXPECT_EQ(page_mark(other), "");
    }
    EXPECT_EQ(with_maker("GIF89a"), "GIF89a");
}

}  // namespace
}  // namespace fieldpeg::show
