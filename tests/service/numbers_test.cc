#include "fieldpeg/v1/numbers.h"

#include "fieldpeg/v1/json.h"
#include "fieldpeg/v1/wire.pb.h"
#include "tests/support/kept_day.h"

#include <gtest/gtest.h>

#include <cmath>
#include <cstdint>
#include <limits>
#include <string>

/// What comes from outside, before anybody reckons with it or works on it.
namespace fieldpeg::v1 {
namespace {

constexpr double inf = std::numeric_limits<double>::infinity();

ServerFrame with_mhz(double mhz) {
    ServerFrame m;
    m.mutable_change()->mutable_board()->add_rows()->mutable_channel()->set_mhz(mhz);
    return m;
}

ServerFrame at(std::int64_t ms) {
    ServerFrame m;
    m.mutable_response()->mutable_answer()->mutable_log()->add_entries()->set_at_ms(ms);
    return m;
}

TEST(Numbers, ArePlainUpToTheGreatestAndNotBeyond) {
    EXPECT_TRUE(are_numbers_plain(ServerFrame()));
    for (const double good : {0.0, 5800.0, number_max, -number_max})
        EXPECT_TRUE(are_numbers_plain(with_mhz(good))) << good;
    for (const double bad : {std::nextafter(number_max, inf), -1e300, inf, -inf,
                             std::numeric_limits<double>::quiet_NaN()})
        EXPECT_FALSE(are_numbers_plain(with_mhz(bad))) << bad;
}

TEST(Numbers, OfTimesArePlainToTheEndOfTheYear9999) {
    for (const auto good : {std::int64_t{0}, time_ms_max, -time_ms_max})
        EXPECT_TRUE(are_numbers_plain(at(good))) << good;
    for (const auto bad :
         {time_ms_max + 1, -time_ms_max - 1, std::numeric_limits<std::int64_t>::min()})
        EXPECT_FALSE(are_numbers_plain(at(bad))) << bad;
}

TEST(Numbers, OfListsAndOfWhatIsNestedCount) {
    Command command;
    command.mutable_change_pilot()->add_power_dbm(14);
    EXPECT_TRUE(are_numbers_plain(command));
    command.mutable_change_pilot()->add_power_dbm(inf);
    EXPECT_FALSE(are_numbers_plain(command));
    Event event;
    event.mutable_swept()->mutable_sweep()->add_level_dbm(-90);
    EXPECT_TRUE(are_numbers_plain(event));
    event.mutable_swept()->mutable_sweep()->add_level_dbm(-std::numeric_limits<float>::infinity());
    EXPECT_FALSE(are_numbers_plain(event));
}

// Times are reckoned with: what is no time would overflow.
TEST(Question, OfATimeBeyondAllTimesIsRefusedWithWhatIsAllowed) {
    testing::KeptDay day;
    for (const auto ms : {std::numeric_limits<std::int64_t>::min(), time_ms_max + 1}) {
        Query airtime, log, board;
        airtime.mutable_airtime();
        airtime.mutable_moment()->set_at_ms(ms);
        log.mutable_log()->set_from_ms(ms);
        board.mutable_board();
        board.mutable_moment()->set_at_ms(ms);
        for (const auto& query : {airtime, log, board}) {
            const auto answer = day.keeper().answer(query, day.now_ms());
            ASSERT_TRUE(answer.has_refusal()) << query.DebugString();
            EXPECT_EQ(answer.refusal().kind(), Refusal::out_of_range);
            EXPECT_NE(answer.refusal().next().find("9999"), std::string::npos);
        }
    }
    Query log;
    log.mutable_log()->set_to_ms(time_ms_max);
    EXPECT_TRUE(day.keeper().answer(log, day.now_ms()).has_log());
}

std::string repeated(std::size_t count, const std::string& part) {
    std::string all;
    for (std::size_t i = 0; i < count; ++i) all += part;
    return all;
}

// As deep as the vocabulary is what is read; a longest message of brackets is refused.
TEST(Json, NestedBeyondTheVocabularyIsRefused) {
    ClientFrame m;
    EXPECT_TRUE(read_json(
        R"({"request": {"command": {"sweep": {"sweep": {"level_dbm": [-90, -91]}}}}})", m));
    constexpr std::size_t longest = 65'536;
    for (const auto* part : {"[", "{\"request\":", "{\"request\":{\"command\":[", "{\"a\":[", "\""})
        EXPECT_FALSE(read_json(repeated(longest / std::string(part).size(), part), m)) << part;
    EXPECT_FALSE(read_json(repeated(longest / 2, "[") + repeated(longest / 2, "]"), m));
}

}  // namespace
}  // namespace fieldpeg::v1
