#include "server/wire/outbox.h"

#include "tests/support/random.h"

#include <gtest/gtest.h>

#include <memory>
#include <optional>
#include <string>

namespace fieldpeg::wire {
namespace {

using testing::for_all;
using testing::whole;

Frame some(const std::string& text) {
    return std::make_shared<const std::string>(text);
}

std::string next(Outbox& outbox) {
    const auto frame = outbox.pop();
    return frame ? **frame : "";
}

TEST(Outbox, GivesChangesInTheirOrder) {
    Outbox outbox(3);
    for (const auto* text : {"1", "2", "3"}) outbox.push(some(text));
    EXPECT_EQ(next(outbox), "1");
    EXPECT_EQ(next(outbox), "2");
    EXPECT_EQ(next(outbox), "3");
    EXPECT_EQ(next(outbox), "");
    EXPECT_FALSE(outbox.needs_snapshot());
}

TEST(Outbox, GivesAnswersBeforeChanges) {
    Outbox outbox(3);
    outbox.push(some("change"));
    outbox.answer(some("answer 1"));
    outbox.answer(some("answer 2"));
    EXPECT_EQ(next(outbox), "answer 1");
    EXPECT_EQ(next(outbox), "answer 2");
    EXPECT_EQ(next(outbox), "change");
}

TEST(Outbox, OwesASnapshotInThePlaceOfMoreThanItHolds) {
    Outbox outbox(2);
    outbox.push(some("1"));
    outbox.push(some("2"));
    EXPECT_FALSE(outbox.needs_snapshot());
    outbox.push(some("3"));
    EXPECT_TRUE(outbox.needs_snapshot());
    EXPECT_EQ(next(outbox), "") << "part of a history with a hole in it";
    outbox.push(some("4"));
    EXPECT_EQ(outbox.size(), 0U) << "the snapshot will have it";

    outbox.resume_from(some("all up to 4"));
    outbox.push(some("5"));
    EXPECT_FALSE(outbox.needs_snapshot());
    EXPECT_EQ(next(outbox), "all up to 4");
    EXPECT_EQ(next(outbox), "5");
}

TEST(Outbox, KeepsAnswersWhenChangesAreForgotten) {
    Outbox outbox(1);
    outbox.answer(some("answer"));
    for (const auto* text : {"1", "2"}) outbox.push(some(text));
    EXPECT_TRUE(outbox.needs_snapshot());
    EXPECT_EQ(next(outbox), "answer");
}

TEST(Outbox, OwesASnapshotWhenTold) {
    Outbox outbox(2);
    outbox.push(some("1"));
    outbox.owe_snapshot();
    EXPECT_TRUE(outbox.needs_snapshot());
    EXPECT_EQ(outbox.size(), 0U);
}

TEST(Outbox, HasRoomForSoManyAnswers) {
    Outbox outbox(3);
    for (std::size_t i = 0; i < answers_owed_max; ++i) {
        EXPECT_TRUE(outbox.has_room()) << i;
        outbox.answer(some("answer"));
    }
    EXPECT_FALSE(outbox.has_room());
    outbox.pop();
    EXPECT_FALSE(outbox.has_room()) << "the first is on its way, and owed until it has arrived";
    outbox.pop();
    EXPECT_TRUE(outbox.has_room());
}

TEST(Outbox, HasRoomForSoManyBytesOfAnswersAndOneMore) {
    Outbox outbox(3);
    outbox.answer(some(std::string(answer_bytes_owed_max - 1, 'a')));
    EXPECT_TRUE(outbox.has_room());
    outbox.answer(some(std::string(answer_bytes_owed_max, 'b')));
    EXPECT_FALSE(outbox.has_room());
    EXPECT_EQ(outbox.answer_bytes(), 2 * answer_bytes_owed_max - 1);
    outbox.pop();
    outbox.pop();
    EXPECT_FALSE(outbox.has_room());
    outbox.pop();
    EXPECT_TRUE(outbox.has_room());
    EXPECT_EQ(outbox.answer_bytes(), 0U);
}

TEST(Outbox, HasRoomForAnswersHoweverManyChangesThereAre) {
    Outbox outbox(100);
    for (int i = 0; i < 100; ++i) outbox.push(some(std::string(answer_bytes_owed_max, 'c')));
    EXPECT_TRUE(outbox.has_room());
    outbox.pop();
    EXPECT_TRUE(outbox.has_room());
}

TEST(Outbox, KeepsTheLastWordOfAProgressAlone) {
    Outbox outbox(3);
    outbox.push(some("change"));
    for (const auto* word : {"10 s", "5 s", "1 s"}) outbox.progress(some(word));
    outbox.answer(some("answer"));
    EXPECT_EQ(outbox.size(), 3U);
    EXPECT_EQ(next(outbox), "answer");
    EXPECT_EQ(next(outbox), "1 s");
    EXPECT_EQ(next(outbox), "change");
    outbox.progress(some("0 s"));
    outbox.progress(nullptr);
    EXPECT_EQ(next(outbox), "") << "it is done";
}

// Changes are numbers here, and a snapshot the number of the last one.
TEST(Outbox, NeverHoldsMoreThanItsLimitNorShowsAHistoryWithAHole) {
    for_all(300, [](std::mt19937_64& rng) {
        const auto limit = static_cast<std::size_t>(whole(rng, 1, 5));
        Outbox outbox(limit);
        int last = 0;
        int shown = 0;
        const auto show = [&] {
            if (outbox.needs_snapshot()) {
                outbox.resume_from(some("snapshot " + std::to_string(last)));
                EXPECT_EQ(next(outbox), "snapshot " + std::to_string(last));
                shown = last;
            } else if (const auto frame = outbox.pop()) {
                EXPECT_EQ(**frame, std::to_string(++shown));
            }
        };
        for (int step = 0; step < 60; ++step) {
            if (testing::chance(rng, 60))
                outbox.push(some(std::to_string(++last)));
            else
                show();
            EXPECT_LE(outbox.size(), limit);
        }
        for (int i = 0; i < 10; ++i) show();
        EXPECT_EQ(shown, last) << "in the end a watcher knows it all";
    });
}

}  // namespace
}  // namespace fieldpeg::wire
