#include "client/show/replies.h"
#include "client/show/plan.h"

#include "server/day/check.h"
#include "server/day/explain.h"
#include "server/day/relay_check.h"
#include "tests/support/days.h"
#include "tests/support/pegs.h"

#include <gtest/gtest.h>

#include <sstream>
#include <string>

namespace fieldpeg::show {
namespace {

using testing::field_text;
using testing::PilotText;
using testing::RelayText;
using testing::sheet_of;
using testing::text_of;

/// Ben and Edda on one channel, Cem on the bench beside Ann, Gus too far out, Dee's mast.
const v1::DaySheet& a_bad_day() {
    static const auto sheet = sheet_of(
        field_text() + text_of(PilotText{.name = "Ann"}) +
        text_of(PilotText{.name = "Ben", .place = "line-3", .channel = "R7"}) +
        text_of(PilotText{
            .name = "Cem", .place = "line-2", .channel = "R2", .stage = "on_bench = true"}) +
        text_of(PilotText{.name = "Edda", .place = "line-4", .channel = "R7"}) +
        text_of(PilotText{.name = "Gus", .place = "line-4", .channel = "1280", .area = "valley"}) +
        "[[pilot]]\nname = \"Dee\"\nplace = \"chair\"\n[[pilot.receiver]]\n"
        "receiver = \"fm-video-5g8\"\nantenna = \"circular-omni\"\npolarisation = \"rhcp\"\n" +
        text_of(RelayText{.name = "mast", .owner = "Dee", .channel = "R4"}));
    return sheet;
}

/// The same without Cem.
v1::DaySheet nobody_on_the_bench() {
    auto sheet = a_bad_day();
    sheet.mutable_pilots(2)->clear_claim();
    return sheet;
}

std::string check_of(const Look& look) {
    return check_text(day::check(a_bad_day(), v1::Basis::held, 10), look);
}
std::string explain_of(const Look& look) {
    return explain_text(day::explain(a_bad_day(), a_bad_day().pilots(0), v1::Basis::held, 10),
                        look);
}
std::string relay_check_of(const Look& look) {
    v1::RelayCheckQuery query;
    query.set_relay("mast");
    query.set_power_dbm(36);
    return relay_check_text(day::relay_check(nobody_on_the_bench(), query).value(), look);
}

bool contains(const std::string& text, std::string_view part) {
    return text.find(part) != text.npos;
}

std::string without_colour(const std::string& text) {
    std::string plain;
    for (std::size_t i = 0; i < text.size(); ++i) {
        if (text[i] == '\x1b')
            i = text.find('m', i);
        else
            plain += text[i];
    }
    return plain;
}

// Ten pilots fit a terminal of 100 columns and, with what else there is to say, a screen of 48 lines.
TEST(CheckInShort, FitsATerminal) {
    std::string text = testing::field_text();
    const char* const channels[] = {"R1", "R2", "R3", "R4", "R5", "R6", "R7", "R8", "F1", "F8"};
    for (int i = 0; i < 10; ++i)
        text += testing::text_of(testing::PilotText{.name = "Pilot-number-" + std::to_string(i),
                                                    .place = "line-1",
                                                    .channel = channels[i]});
    const Look terminal{100, false};
    const auto reply = day::check(testing::sheet_of(text), v1::Basis::held, 10);
    const auto shown = check_text(reply, terminal, true);
    std::istringstream lines(shown);
    std::string line;
    int count = 0;
    while (std::getline(lines, line)) {
        ++count;
        EXPECT_LE(columns(line), 100U) << line;
    }
    EXPECT_LE(count, 48);
    for (const auto& p : reply.pilots()) EXPECT_TRUE(contains(shown, p.pilot())) << p.pilot();
    EXPECT_FALSE(contains(shown, "Largest contributions"));
    EXPECT_TRUE(contains(check_text(reply, terminal), "Largest contributions"));
}

TEST(Replies, AreTheSameWithColourAndWithout) {
    for (const auto& text_in : {check_of, explain_of, relay_check_of}) {
        const auto plain = text_in({});
        const auto painted = text_in({.width = 0, .colour = true});
        EXPECT_FALSE(contains(plain, "\x1b"));
        EXPECT_TRUE(contains(painted, "\x1b"));
        EXPECT_EQ(without_colour(painted), plain);
    }
}

TEST(Replies, EndNoLineInASpace) {
    for (const std::size_t width : {std::size_t{0}, std::size_t{60}, std::size_t{100}}) {
        for (const auto& text_in : {check_of, explain_of, relay_check_of}) {
            std::istringstream in(text_in({.width = width, .colour = false}));
            for (std::string line; std::getline(in, line);)
                EXPECT_FALSE(line.ends_with(' ')) << line;
        }
    }
}

TEST(Replies, SayThatTheyAreEstimates) {
    for (const auto& text_in : {check_of, explain_of, relay_check_of})
        EXPECT_TRUE(contains(text_in({}), estimates_text));
}

TEST(CheckText, SaysWhoAndWhatRulesEverybody) {
    const auto text = check_of({});
    EXPECT_TRUE(text.starts_with("Counting every claim held, on the bench or on air.\n")) << text;
    EXPECT_TRUE(contains(text, "Edda on R7 is on the same channel")) << text;
    EXPECT_TRUE(contains(text, "R1 5658")) << text;  // MHz beside the letter
    EXPECT_TRUE(contains(text, "On the bench: who must step back")) << text;
    EXPECT_TRUE(contains(text, "same channel: Ben")) << text;
    EXPECT_TRUE(contains(text, "Too far")) << text;
}

TEST(CheckText, SaysWhatToDoOnAnEmptyDay) {
    EXPECT_EQ(check_text({}, {}), "Nobody is on this day yet: add a [[pilot]] to the file.\n");
}

TEST(ExplainText, HasTheBudgetLineByLine) {
    const auto text = explain_of({});
    for (const auto* line :
         {"sent", "wanted", "noise", "interference", "desensitised", "C/(N+I)", "own transmitter",
          "margin, sharp", "of the flight", "Defaults used", "Values nobody measured (assumed)"})
        EXPECT_TRUE(contains(text, line)) << line;
}

TEST(RelayCheckText, SaysWhoWouldSufferAndWhatWouldHelp) {
    const auto text = relay_check_of({});
    EXPECT_TRUE(
        text.starts_with("mast of Dee on R4 (5769 MHz) at 3.98 W: too strong for a neighbour"))
        << text;
    for (const auto* line :
         {"Who would suffer", "What would help", "Radio exposure", "To call out", "-10 dBm ["})
        EXPECT_TRUE(contains(text, line)) << line << "\n" << text;
}

// "Fewer will not do" is a proof, and said only where there is one.
TEST(PlanText, ClaimsThatFewerMovesWillNotDoOnlyWhereItIsProved) {
    v1::PlanReply reply;
    reply.set_reached(true);
    reply.set_moves(2);
    EXPECT_EQ(plan_text(reply, {}).find("will not do"), std::string::npos);
    EXPECT_NE(plan_text(reply, {}).find("fewer may do"), std::string::npos);
    reply.set_moves_proved(true);
    EXPECT_NE(plan_text(reply, {}).find("fewer will not do, proved"), std::string::npos);
}

}  // namespace
}  // namespace fieldpeg::show
