#include "client/show/day.h"
#include "client/show/replies.h"

#include <gtest/gtest.h>

#include <string>

/// Replies that no server of ours gives: lists that do not go with each other, things without
/// their parts. They are shown as far as they go. tests/fuzz/reply_fuzz.cc looks for more.
namespace fieldpeg::show {
namespace {

bool contains(const std::string& text, std::string_view part) {
    return text.find(part) != std::string::npos;
}

TEST(FalseBoard, WithMoreToCallThanWarningsIsShown) {
    v1::BoardReply board;
    board.add_call_out("Ann: land");
    board.add_call_out("Bob: land");
    board.add_untold()->set_version(7);
    const auto text = board_text(board, 0, {});
    EXPECT_TRUE(contains(text, "Ann: land (#7)")) << text;
    EXPECT_TRUE(contains(text, "Bob: land\n")) << text;
}

TEST(FalseChannels, WithAProductOfNobodyOrOfManyAreShown) {
    v1::ChannelsReply reply;
    for (const auto* name : {"R1", "R3"}) reply.add_channels()->set_name(name);
    for (int count = 0; count < 5; ++count) {
        auto& hit = *reply.add_hits();
        hit.set_on("R1");
        for (int i = 0; i < count; ++i) hit.add_from("F" + std::to_string(i));
    }
    const auto text = channels_text(reply, {});
    EXPECT_TRUE(contains(text, "2 x F0 - F1")) << text;
    EXPECT_TRUE(contains(text, "F0 + F1 - F2")) << text;
    EXPECT_TRUE(contains(text, "F0, F1, F2, F3")) << text;
}

TEST(FalseExplanation, WithAProductOfNobodyIsShown) {
    v1::ExplainReply reply;
    auto& receiver = *reply.add_receivers();
    receiver.mutable_ref();
    receiver.add_fifth_order()->set_product_mhz(5800);
    EXPECT_TRUE(contains(explain_text(reply, {}), "Fifth-order"));
}

TEST(FalseReach, OfNoReceiverIsShown) {
    v1::ReachReply reply;
    reply.set_pilot("Ann");
    EXPECT_TRUE(contains(reach_text(reply, {}), "Ann"));
}

TEST(FalseReach, OfReceiversWithDifferentBearingsIsShownAsFarAsAllHaveThem) {
    v1::ReachReply reply;
    for (int lines = 1; lines <= 2; ++lines) {
        auto& receiver = *reply.add_receivers();
        for (int i = 0; i < 3 - lines; ++i) receiver.add_by_bearing()->set_azimuth_deg(90 * i);
    }
    const auto text = reach_text(reply, {});
    EXPECT_TRUE(contains(text, "north")) << text;
    EXPECT_FALSE(contains(text, "east")) << text;
}

}  // namespace
}  // namespace fieldpeg::show
