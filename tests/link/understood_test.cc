#include "client/link/understood.h"

#include "client/link/remote.h"
#include "tests/support/false_server.h"
#include "tests/support/kept_day.h"
#include "tests/support/pegs.h"

#include <google/protobuf/descriptor.h>
#include <gtest/gtest.h>

#include <chrono>
#include <limits>
#include <string>

/// What a server says is taken for what was asked, or not at all; and what an honest one says comes
/// through as it is.
namespace fieldpeg::link {
namespace {

using namespace std::chrono_literals;
using testing::FalseServer;
using testing::KeptDay;

TEST(Understood, IsAllThatAnHonestServerSaysAndNothingInItIsChanged) {
    KeptDay day;
    ASSERT_TRUE(day.take(testing::claim("Ann", "R3")).has_claim());
    ASSERT_TRUE(day.take(testing::on("Ann")).has_switched());
    ASSERT_TRUE(day.enter("", "Zo\u00eb", 'z').has_done());
    int kinds = 0;
    const auto* asks = v1::Query::descriptor()->FindOneofByName("ask");
    for (int i = 0; i < asks->field_count(); ++i) {
        v1::Query query;
        auto& part = *query.GetReflection()->MutableMessage(&query, asks->field(i));
        const auto* fields = part.GetDescriptor();
        for (const auto* name : {"pilot", "transmitter"})
            if (const auto* field = fields->FindFieldByName(name))
                part.GetReflection()->SetString(&part, field, "Ann");
        if (const auto* field = fields->FindFieldByName("relay"))
            part.GetReflection()->SetString(&part, field, "mast");
        if (query.has_near()) query.mutable_near()->set_mhz(5800);
        const auto answer = day.keeper().answer(query, day.now_ms());
        kinds += answer.has_refusal() ? 0 : 1;
        auto same = answer;
        EXPECT_TRUE(made_fit(same)) << asks->field(i)->name();
        EXPECT_EQ(testing::bytes_of(same), testing::bytes_of(answer)) << asks->field(i)->name();
        EXPECT_TRUE(is_understood(query, answer)) << asks->field(i)->name();
    }
    EXPECT_GE(kinds, 14);
    const auto change = day.keeper().change({}, {});
    EXPECT_TRUE(is_understood(change));
}

TEST(Understood, AreTheLinesOfWhatHasLines) {
    v1::Refusal why;
    why.set_why("day.toml:3: a\nday.toml:4: \x1b[2J\n");
    why.set_next("a\nb");
    EXPECT_TRUE(made_fit(why));
    EXPECT_EQ(why.why(), "day.toml:3: a\nday.toml:4: \\x1b[2J\n");
    EXPECT_EQ(why.next(), "a\\x0ab");
}

TEST(Understood, IsNoNumberThatNothingHas) {
    for (const double mhz : {std::numeric_limits<double>::quiet_NaN(),
                             std::numeric_limits<double>::infinity(), -1e300, 1e9}) {
        v1::Answer answer;
        answer.mutable_board()->add_rows()->mutable_channel()->set_mhz(mhz);
        EXPECT_FALSE(made_fit(answer)) << mhz;
    }
    v1::Answer late;
    late.mutable_board()->set_at_ms(std::numeric_limits<std::int64_t>::max());
    EXPECT_FALSE(made_fit(late));
}

// Verbs go by the place of one in another's list.
TEST(Understood, IsNothingThatLacksWhatBelongsToAnother) {
    v1::Query query;
    v1::Answer answer;
    query.mutable_board();
    EXPECT_FALSE(is_understood(query, answer)) << "no board";
    answer.mutable_board()->set_version(1);
    EXPECT_FALSE(is_understood(query, answer)) << "of no version of the day";
    answer.set_version(1);
    EXPECT_TRUE(is_understood(query, answer));
    answer.mutable_board()->add_call_out("of no warning");
    EXPECT_FALSE(is_understood(query, answer));

    query.mutable_reach();
    answer.mutable_reach();
    EXPECT_FALSE(is_understood(query, answer)) << "no receiver";
    for (int lines = 0; lines < 2; ++lines) {
        auto& receiver = *answer.mutable_reach()->add_receivers();
        for (int i = 0; i < lines; ++i) receiver.add_by_height();
        EXPECT_EQ(is_understood(query, answer), lines == 0);
    }

    query.mutable_channels();
    answer.mutable_channels()->add_hits()->add_from("R1");
    EXPECT_FALSE(is_understood(query, answer));
    answer.mutable_channels()->mutable_hits(0)->add_from("R3");
    EXPECT_TRUE(is_understood(query, answer));

    query.mutable_explain();
    answer.mutable_explain()->add_receivers()->add_fifth_order()->add_from("R1");
    EXPECT_FALSE(is_understood(query, answer));
}

// "on" exits 0 only where the answer is a yes.
TEST(Understood, IsNoYesThatSaysNothing) {
    v1::Reply reply;
    reply.set_version(2);
    EXPECT_FALSE(is_understood(testing::on("Ann"), reply));
    reply.mutable_done();
    EXPECT_FALSE(is_understood(testing::on("Ann"), reply));
    reply.mutable_switched();
    EXPECT_FALSE(is_understood(testing::on("Ann"), reply));
    reply.mutable_switched()->set_answer(static_cast<v1::SwitchReply::Answer>(99));
    EXPECT_FALSE(is_understood(testing::on("Ann"), reply));
    reply.mutable_switched()->set_answer(v1::SwitchReply::wait);
    EXPECT_TRUE(is_understood(testing::on("Ann"), reply));
    EXPECT_FALSE(is_understood(testing::claim("Ann", "R3"), reply));
    reply.clear_version();
    EXPECT_FALSE(is_understood(testing::on("Ann"), reply)) << "of no version of the day";
}

Patience short_patience() {
    Patience patience;
    patience.answer = 100ms;
    return patience;
}

// It lets everybody in and answers every ping.
TEST(Watching, EndsAtAServerThatShowsNothingWhereSomebodyIsNotPatient) {
    FalseServer server([](const v1::Request&) {
        v1::ServerFrame m;
        m.set_pong(true);
        return FalseServer::bytes_of(m);
    });
    Remote remote(server.membership(), short_patience());
    int lost = 0;
    Link::Watcher watcher;
    watcher.change = [](const v1::Change&) { return true; };
    watcher.lost = [&](const v1::Refusal&) { ++lost; };
    watcher.is_patient = false;
    const auto why = remote.watch(watcher);
    EXPECT_EQ(why.kind(), v1::Refusal::no_answer);
    EXPECT_EQ(why.why(), "the server does not answer");
    EXPECT_EQ(lost, 1);
    EXPECT_EQ(server.heard().size(), 2U);
}

TEST(Watching, EndsForAnybodyAtAServerThatIsNotUnderstood) {
    FalseServer server([](const v1::Request&) {
        v1::ServerFrame m;
        m.mutable_change();
        return FalseServer::bytes_of(m);
    });
    Remote remote(server.membership(), short_patience());
    Link::Watcher watcher;
    watcher.change = [](const v1::Change&) { return true; };
    watcher.lost = [](const v1::Refusal&) {};
    EXPECT_EQ(remote.watch(watcher).why(), not_understood);
    EXPECT_EQ(server.heard().size(), 1U);
}

}  // namespace
}  // namespace fieldpeg::link
