#include "server/day/differences.h"
#include "server/day/state.h"
#include "tests/support/days.h"
#include "tests/support/kept_day.h"
#include "tests/support/pegs.h"

#include <gtest/gtest.h>

#include <string>

/// A corrected day file as it comes in over the wire: read whole, or nothing of it.
namespace fieldpeg::service {
namespace {

using testing::bytes_of;
using testing::changed;
using testing::club_day;
using testing::KeptDay;

v1::Command take(const std::string& toml, const std::string& only = "") {
    v1::Command command;
    auto& ask = *command.mutable_take_day();
    ask.set_toml(toml);
    ask.set_file("saturday.toml");
    ask.set_only(only);
    ask.set_yes_anyway(true);
    return command;
}

std::string with_bob_at(const std::string& place) {
    return changed(club_day(), "name = \"Bob\"\nplace = \"line-2\"",
                   "name = \"Bob\"\nplace = \"" + place + "\"");
}

TEST(TakeDay, OfAWrongFileSaysFileLineAndFieldAndTakesNothing) {
    KeptDay day;
    const auto before = bytes_of(day.keeper().state());
    const auto wrong = changed(with_bob_at("line-3"), "name = \"Dee\"\nplace = \"chair\"",
                               "name = \"Dee\"\nplace = \"chain\"");
    const auto line = std::to_string(
        1 + std::count(wrong.begin(),
                       wrong.begin() + static_cast<std::ptrdiff_t>(wrong.find("chain")), '\n'));
    const auto refusal = day.take(take(wrong)).refusal();
    EXPECT_EQ(refusal.kind(), v1::Refusal::malformed);
    EXPECT_TRUE(refusal.why().starts_with("saturday.toml:" + line)) << refusal.why();
    EXPECT_NE(refusal.why().find("pilot 'Dee', place: "), std::string::npos) << refusal.why();
    EXPECT_EQ(refusal.next(), "nothing was taken over");
    EXPECT_EQ(bytes_of(day.keeper().state()), before);
}

TEST(TakeDay, IsFoldedFromTheLogAsItWas) {
    KeptDay day;
    const auto file = changed(with_bob_at("line-3"), "name = \"valley\"", "name = \"hill\"");
    ASSERT_TRUE(day.take(take(file)).take().taken());
    const auto state = bytes_of(day.keeper().state());
    testing::write_file(day.files().sheet, file);
    day.reopen();
    EXPECT_EQ(bytes_of(day.keeper().state()), state);
    EXPECT_TRUE(day.differences().empty());
}

TEST(TakeDay, OfOneNameTakesItHoweverItIsWritten) {
    KeptDay day;
    EXPECT_TRUE(day.take(take(with_bob_at("line-3"), "bob")).take().taken());
    EXPECT_EQ(day::pilot(day.keeper().state().sheet(), "Bob")->place(), "line-3");
    const auto refusal = day.take(take(with_bob_at("line-4"), "Bop")).refusal();
    EXPECT_EQ(refusal.where(), "only");
    EXPECT_EQ(refusal.next(), "did you mean 'Bob'?");
}

TEST(TakeDay, OfWhoMayNotIsNotRead) {
    KeptDay day;
    const day::Actor onlooker{77, v1::Role::onlooker};
    EXPECT_NE(day.take(take("[[pilot]\n"), onlooker).refusal().kind(), v1::Refusal::malformed);
}

}  // namespace
}  // namespace fieldpeg::service
