#include "client/link/retry.h"

#include "server/wire/session.h"
#include "tests/support/random.h"

#include <gtest/gtest.h>

#include <chrono>
#include <optional>
#include <vector>

namespace fieldpeg::link {
namespace {

using namespace std::chrono_literals;
using Time = Retry::Time;
using Wait = Retry::Wait;

constexpr Time morning{};

/// The waits of somebody to whom the same happens each time, each attempt taking so long.
std::vector<Wait> waits(Retry retry, Unanswered what, Wait each, Time until) {
    std::vector<Wait> all;
    for (auto now = morning + each; now < until; now += each) {
        const auto wait = retry.after(what, now);
        if (!wait) break;
        all.push_back(*wait);
        now += *wait;
    }
    return all;
}

TEST(Retry, WaitsTwiceAsLongEachTimeAndNeverLongerThanTheMost) {
    const auto all = waits(Retry::of_watching(), Unanswered::unsent, 0ms, morning + 1min);
    ASSERT_GT(all.size(), 6U);
    EXPECT_EQ(all.front(), back_off_first);
    for (std::size_t i = 1; i < all.size(); ++i)
        EXPECT_EQ(all[i], std::min<Wait>(2 * all[i - 1], back_off_most));
    EXPECT_EQ(all.back(), back_off_most);
}

TEST(Retry, OfARequestIsGivenUpWhenThePatienceIsOver) {
    const Patience patience;
    auto now = morning;
    for (const Wait each : {Wait(0ms), Wait(10ms), Wait(1s), Wait(3s)}) {
        Wait waited{};
        const auto all =
            waits(Retry::of_a_request(patience, morning), Unanswered::unsent, each, morning + 1h);
        for (const auto wait : all) waited += wait + each;
        EXPECT_LT(waited, patience.all) << "an attempt begins after the end";
        EXPECT_GT(waited + each + back_off_most + 1ms, patience.all) << "given up too early";
    }
    EXPECT_FALSE(Retry::of_a_request(patience, now).after(Unanswered::unsent, now + patience.all));
}

TEST(Retry, OfARequestThatWasSentTwiceIsGivenUp) {
    auto retry = Retry::of_a_request({}, morning);
    EXPECT_TRUE(retry.after(Unanswered::sent, morning));
    EXPECT_FALSE(retry.was_sent_too_often());
    EXPECT_FALSE(retry.after(Unanswered::sent, morning + 1s));
    EXPECT_TRUE(retry.was_sent_too_often());
}

// The server is killed under a command and takes a while to come back.
TEST(Retry, CountsOnlyWhatWasSent) {
    auto retry = Retry::of_a_request({}, morning);
    auto now = morning;
    ASSERT_TRUE(retry.after(Unanswered::sent, now));
    for (int i = 0; i < 4; ++i) {
        const auto wait = retry.after(Unanswered::unsent, now);
        ASSERT_TRUE(wait) << i;
        now += *wait;
    }
    EXPECT_FALSE(retry.was_sent_too_often());
}

// Whatever happens in whatever order: no request is sent a third time, none is tried for ever.
TEST(Retry, OfARequestEndsWhateverHappens) {
    testing::for_all(500, [](std::mt19937_64& rng) {
        const Patience patience;
        auto retry = Retry::of_a_request(patience, morning);
        auto now = morning;
        int sent = 0;
        std::optional<Wait> wait = Wait::zero();
        while (wait) {
            now += *wait;
            EXPECT_LT(now, morning + patience.all);
            const bool was_sent = testing::chance(rng, 20);
            now += std::chrono::milliseconds(testing::whole(rng, 0, was_sent ? 10'000 : 3'000));
            sent += was_sent ? 1 : 0;
            wait = retry.after(was_sent ? Unanswered::sent : Unanswered::unsent, now);
        }
        EXPECT_LE(sent, sends_max);
    });
}

TEST(Retry, OfWhatIsForGoodThereIsNone) {
    for (auto retry : {Retry::of_watching(), Retry::of_a_request({}, morning)})
        EXPECT_FALSE(retry.after(Unanswered::for_good, morning));
}

// From eight in the morning to eight the next, the server away from noon to one.
TEST(Retry, OfWatchingLastsTheDay) {
    auto retry = Retry::of_watching();
    auto now = morning;
    int attempts = 0;
    while (now < morning + 24h) {
        const bool is_away = now >= morning + 4h && now < morning + 5h;
        if (!is_away) {
            retry.succeeded();
            now += 20min;  // until the connection is lost
        }
        const auto wait = retry.after(is_away ? Unanswered::unsent : Unanswered::sent, now);
        ASSERT_TRUE(wait);
        EXPECT_LE(*wait, is_away ? Wait(back_off_most) : Wait(back_off_first));
        now += *wait;
        ++attempts;
    }
    EXPECT_GT(attempts, 3600 / 2) << "it is found again within two seconds";
    EXPECT_LT(attempts, 3600);
}

TEST(Retry, KnowsWhichGoodbyesAreForGood) {
    v1::Refusal goodbye;
    goodbye.set_kind(v1::Refusal::unavailable);
    EXPECT_FALSE(is_final(goodbye));
    for (const auto kind : {v1::Refusal::malformed, v1::Refusal::not_permitted,
                            v1::Refusal::out_of_range, v1::Refusal::conflict}) {
        goodbye.set_kind(kind);
        EXPECT_TRUE(is_final(goodbye));
    }
}

/// Lives by what is due; the server answers a ping at once, or says nothing from a moment on. When
/// it was given up.
std::optional<Time> given_up(Time silent_from, Time until, int& pings) {
    Silence silence(morning);
    auto now = morning;
    while (now < until) {
        switch (silence.due(now)) {
            case Silence::Due::giving_up:
                return now;
            case Silence::Due::ping:
                ++pings;
                silence.asked(now);
                if (now < silent_from) silence.heard(now);
                break;
            case Silence::Due::nothing:
                EXPECT_GT(silence.next(), now) << "it would be asked without a pause";
                now = silence.next();
                break;
        }
    }
    return std::nullopt;
}

TEST(Silence, OfAServerThatAnswersIsNeverGivenUp) {
    int pings = 0;
    EXPECT_FALSE(given_up(Time::max(), morning + 24h, pings));
    EXPECT_EQ(pings, 24 * 3600 / ping_every.count() - 1);
}

TEST(Silence, OfAServerThatAnswersNoMoreIsGivenUpAfterSeveralPings) {
    int pings = 0;
    const auto when = given_up(morning + 10s, morning + 24h, pings);
    ASSERT_TRUE(when);
    EXPECT_EQ(*when, morning + silent_max);
    EXPECT_EQ(pings, 2);
}

TEST(Silence, IsBrokenByWhateverIsHeard) {
    Silence silence(morning);
    for (auto now = morning; now < morning + 1h; now += 1s) {
        silence.heard(now);
        EXPECT_NE(silence.due(now), Silence::Due::giving_up);
    }
}

// The server lets those go who say nothing: a client must say something before.
TEST(Silence, IsBrokenBeforeTheServerMindsIt) {
    EXPECT_LT(2 * ping_every, wire::SessionLimits{}.idle);
}

}  // namespace
}  // namespace fieldpeg::link
