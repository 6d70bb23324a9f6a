#include "server/wire/frame.h"

#include "fieldpeg/v1/wire.pb.h"

#include <gtest/gtest.h>

#include <string>

namespace fieldpeg::wire {
namespace {

TEST(Frame, IsFourBytesOfLengthTheHighestFirstThenTheMessage) {
    v1::ClientFrame m;
    m.mutable_hello()->set_program(std::string(300, 'p'));
    const auto body = m.SerializeAsString();
    ASSERT_EQ(body.size(), 306U);
    EXPECT_EQ(*frame(m), std::string("\0\0\x01\x32", 4) + body);
}

TEST(Frame, IsReadBackAsItWasWritten) {
    v1::ClientFrame m;
    m.set_ping(true);
    const auto bytes = *frame(m);
    const auto size = body_size(bytes.substr(0, length_bytes), client_frame_max);
    ASSERT_TRUE(size);
    EXPECT_EQ(*size, bytes.size() - length_bytes);
    v1::ClientFrame back;
    ASSERT_TRUE(back.ParseFromString(bytes.substr(length_bytes)));
    EXPECT_TRUE(back.ping());
}

TEST(Frame, UpToTheLongestIsTakenAndOneByteMoreRefused) {
    EXPECT_EQ(body_size(std::string("\0\0\x04\0", 4), 1024).value(), 1024U);
    const auto longer = body_size(std::string("\0\0\x04\x01", 4), 1024);
    ASSERT_FALSE(longer);
    EXPECT_NE(longer.error().why.find("1025"), std::string::npos) << longer.error().why;
    EXPECT_NE(longer.error().next.find("1024"), std::string::npos) << longer.error().next;
}

TEST(Frame, OfNoLengthIsRefused) {
    EXPECT_FALSE(body_size(std::string(4, '\0'), 1024));
}

TEST(Frame, OfTheGreatestLengthThatCanBeWrittenIsRefused) {
    EXPECT_FALSE(body_size("\xff\xff\xff\xff", server_frame_max));
    EXPECT_FALSE(body_size(std::string("\x80\0\0\0", 4), server_frame_max));
}

TEST(Frame, TakesLessBeforeSomebodySaidWhoTheyAre) {
    EXPECT_LT(hello_frame_max, client_frame_max);
    EXPECT_LT(client_frame_max, server_frame_max);
}

}  // namespace
}  // namespace fieldpeg::wire
