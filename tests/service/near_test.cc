#include "server/service/near.h"

#include "tests/support/kept_day.h"

#include <gtest/gtest.h>

#include <algorithm>
#include <cmath>
#include <limits>
#include <string>

/// "Who could have hit me at 14:32 near 5800?"
namespace fieldpeg::service {
namespace {

using testing::bytes_of;
using testing::channel;
using testing::claim;
using testing::KeptDay;
using testing::on;
using testing::on_already;

constexpr std::int64_t one_minute_ms = 60'000;

v1::Query near_query(double mhz, std::int64_t at_ms) {
    v1::Query query;
    query.mutable_near()->set_mhz(mhz);
    query.mutable_near()->set_contributions(1000);
    query.mutable_moment()->set_at_ms(at_ms);
    return query;
}

v1::Command seen(const std::string& at) {
    v1::Command command;
    *command.mutable_see()->mutable_channel() = channel(at);
    return command;
}

/// Ann on R3 and Bob on R6 are in the air.
class Near : public ::testing::Test {
protected:
    Near() {
        day_.take(claim("Ann", "R3"));
        day_.take(on("Ann"));
        day_.take(claim("Bob", "R6"));
        day_.take(on("Bob"));
        moment_ms_ = day_.now_ms();
    }

    void later(std::int64_t minutes) { day_.set_now_ms(moment_ms_ + minutes * one_minute_ms); }
    v1::NearReply asked(double mhz = 5732) {
        const auto answer = day_.keeper().answer(near_query(mhz, moment_ms_), day_.now_ms());
        EXPECT_FALSE(answer.has_refusal()) << answer.refusal().why();
        return answer.near();
    }
    static const v1::Radiating* found(const v1::NearReply& reply, const std::string& who) {
        const auto at = std::ranges::find(reply.radiating(), who, &v1::Radiating::transmitter);
        return at == reply.radiating().end() ? nullptr : &*at;
    }

    KeptDay day_;
    std::int64_t moment_ms_ = 0;
};

TEST_F(Near, TellsWhatRadiatedNearestInFrequencyFirst) {
    const auto reply = asked();
    ASSERT_EQ(reply.radiating_size(), 2);
    EXPECT_EQ(reply.radiating(0).transmitter(), "Ann");
    EXPECT_EQ(reply.radiating(1).transmitter(), "Bob");
    // R6 lies at 5843 MHz [hobby rows: common practice, no published source].
    EXPECT_NEAR(reply.radiating(1).offset_mhz(), 5843 - 5732, 1e-9);
    EXPECT_TRUE(reply.later().empty());
    EXPECT_FALSE(reply.cautions().empty());
}

// The same numbers as another question about the same moment gives.
TEST_F(Near, AgreesWithCheckAtThatMoment) {
    later(10);
    day_.take(testing::off("Bob"));
    v1::Query check;
    check.mutable_check()->set_basis(v1::Basis::on_air);
    check.mutable_check()->set_contributions(1000);
    check.mutable_moment()->set_at_ms(moment_ms_);
    const auto all = day_.keeper().answer(check, day_.now_ms()).check();
    const auto reply = asked();
    ASSERT_EQ(reply.receivers_size(), 1);
    const auto ann = std::ranges::find(all.receivers(), "Ann", &v1::ReceiverResult::owner);
    ASSERT_NE(ann, all.receivers().end());
    EXPECT_EQ(bytes_of(reply.receivers(0).then()), bytes_of(*ann));
    EXPECT_FALSE(reply.receivers(0).has_now()) << "nothing was said later that changes it";
    EXPECT_TRUE(
        std::ranges::is_sorted(ann->contributions(), std::greater{}, &v1::Contribution::level_dbm));
}

TEST_F(Near, CountsWhatWasFoundOutSoonAfterwards) {
    later(5);
    day_.take(seen("R3"));
    const auto reply = asked();
    ASSERT_EQ(reply.later_size(), 1);
    EXPECT_EQ(reply.radiating_size(), 3);
    EXPECT_TRUE(std::ranges::any_of(reply.radiating(), &v1::Radiating::known_later));
    ASSERT_EQ(reply.receivers_size(), 1);
    ASSERT_TRUE(reply.receivers(0).has_now());
    // On one's own channel somebody more can only cost [model: terms only add].
    EXPECT_LT(reply.receivers(0).now().margin_ref_db(), reply.receivers(0).then().margin_ref_db());
}

TEST_F(Near, DoesNotCountWhatWasFoundOutMuchLater) {
    later(found_out_ms / one_minute_ms + 1);
    day_.take(seen("R3"));
    EXPECT_EQ(asked().radiating_size(), 2);
    EXPECT_TRUE(asked().later().empty());
}

TEST_F(Near, TakesARelayThatWasOnUnaskedForHavingBeenOn) {
    later(2);
    day_.take(on_already("mast", "R4", 27.78));
    const auto reply = asked();
    const auto* mast = found(reply, "mast");
    ASSERT_NE(mast, nullptr);
    EXPECT_TRUE(mast->known_later());
    EXPECT_EQ(mast->channel().name(), "R4");
}

TEST_F(Near, BelievesGearAsItWasDeclaredLaterAndKeepsWhoseChannelItWas) {
    const auto before = asked();
    later(30);
    day_.take(testing::off("Ann"));
    v1::Command put;
    put.mutable_put()->set_toml(
        "[[field.place]]\nname = \"line-1\"\nat_m = [0, -60]\nheight_m = 1.7\n");
    const auto reply = day_.take(put);
    ASSERT_FALSE(reply.has_refusal()) << reply.refusal().why();
    const auto after = asked();
    ASSERT_EQ(after.receivers_size(), 1);
    EXPECT_EQ(bytes_of(after.receivers(0).then()), bytes_of(before.receivers(0).then()));
    ASSERT_TRUE(after.receivers(0).has_now());
    EXPECT_EQ(after.receivers(0).now().channel(), "R3");
    // Sixty metres farther from where she flies, less arrives [P.525-5, L_bf].
    EXPECT_LT(after.receivers(0).now().wanted_dbm(), after.receivers(0).then().wanted_dbm());
    EXPECT_EQ(after.later_size(), 1);
}

TEST_F(Near, OfNobodysFrequencyTellsOnlyWhatRadiated) {
    const auto reply = asked(1280);
    EXPECT_EQ(reply.radiating_size(), 2);
    EXPECT_TRUE(reply.receivers().empty());
}

TEST_F(Near, RefusesFrequenciesThatAreNone) {
    for (const double mhz :
         {0.0, -5800.0, 1e9, std::nan(""), std::numeric_limits<double>::infinity()}) {
        const auto answer = day_.keeper().answer(near_query(mhz, moment_ms_), day_.now_ms());
        EXPECT_EQ(answer.refusal().kind(), v1::Refusal::out_of_range) << mhz;
    }
    const auto early = day_.keeper().answer(near_query(5800, 1), day_.now_ms());
    EXPECT_EQ(early.refusal().kind(), v1::Refusal::not_found);
}

}  // namespace
}  // namespace fieldpeg::service
