#include "server/day/limits.h"

#include "server/day/state.h"
#include "tests/support/days.h"
#include "tests/support/kept_day.h"
#include "tests/support/pegs.h"

#include <fmt/format.h>
#include <gtest/gtest.h>

#include <string>
#include <vector>

/// What one person with a ticket may fill of a day, and how the marshal takes it back. How much is
/// ours; that a school class with one ticket is enough to find out is common practice, no published
/// source.
namespace fieldpeg::service {
namespace {

using testing::bytes_of;
using testing::changed;
using testing::channel;
using testing::KeptDay;

v1::Command seen(double mhz) {
    v1::Command command;
    command.mutable_see()->mutable_channel()->set_mhz(mhz);
    return command;
}

v1::Command gone(std::uint32_t sighting, const std::string& by = "") {
    v1::Command command;
    command.mutable_unsee()->set_sighting(sighting);
    command.mutable_unsee()->set_by(by);
    return command;
}

v1::Command put(const std::string& toml) {
    v1::Command command;
    command.mutable_put()->set_toml(toml);
    return command;
}

v1::Command removed_by(const std::string& by) {
    v1::Command command;
    command.mutable_remove()->set_by(by);
    return command;
}

std::string relay_of(const std::string& owner, const std::string& name) {
    return testing::unclaimed({.name = name, .owner = owner});
}

/// Somebody with an emission of their own making.
std::string with_emission(const std::string& who, const std::string& emission) {
    return changed(testing::unclaimed(testing::PilotText{.name = who}), "emission = \"fm-video\"",
                   "emission = \"" + emission + "\"") +
           fmt::format(
               "[emission.{0}]\ntitle = \"{0}\"\ndensity_db = [[0, -10], [400, -72]]\n"
               "sigma_mhz = 2.5\nconstant_envelope = true\n[emission.{0}.provenance]\n"
               "density_db = [\"derived\", \"x\"]\nsigma_mhz = [\"derived\", \"x\"]\n"
               "constant_envelope = [\"derived\", \"x\"]\n",
               emission);
}

/// Ann, Bob and Dee are here with tickets of their own, Cy and Eve with that for all.
class CrowdedDay : public KeptDay {
public:
    CrowdedDay() {
        for (const auto* name : {"Ann", "Bob", "Dee"})
            enter(ticket(v1::Role::pilot, name), name, name[0]);
        const auto for_all = ticket(v1::Role::pilot);
        for (const auto* name : {"Cy", "Eve"}) enter(for_all, name, name[0]);
    }

    const v1::DaySheet& sheet() { return keeper().state().sheet(); }
    /// As often as it is taken, at most so often.
    int enters_sightings(const day::Actor& who, int most) {
        int taken = 0;
        while (taken < most && !take(seen(5700 + taken), who).has_refusal()) ++taken;
        return taken;
    }
};

TEST(LimitsOfOne, AreTwentySightingsThatStand) {
    CrowdedDay day;
    EXPECT_EQ(day.enters_sightings(day.actor('A'), 100), day::sightings_of_one_max);
    const auto before = bytes_of(day.keeper().state());
    const auto refusal = day.take(seen(5800), day.actor('A')).refusal();
    EXPECT_EQ(refusal.kind(), v1::Refusal::conflict);
    EXPECT_NE(refusal.why().find("20 sightings of yours stand"), std::string::npos);
    EXPECT_NE(refusal.next().find("seen --gone"), std::string::npos);
    EXPECT_EQ(bytes_of(day.keeper().state()), before);
    EXPECT_FALSE(day.take(seen(5800), day.actor('B')).has_refusal()) << "nobody else pays for it";
    const auto first = day.sheet().sightings(0).id();
    EXPECT_FALSE(day.take(gone(first), day.actor('A')).has_refusal());
    EXPECT_FALSE(day.take(seen(5800), day.actor('A')).has_refusal());
}

TEST(LimitsOfOne, LeaveRoomForTheMarshal) {
    CrowdedDay day;
    int by_pilots = 0;
    for (const char key : {'A', 'B', 'D', 'C', 'E'})
        by_pilots += day.enters_sightings(day.actor(key), 100);
    EXPECT_EQ(by_pilots, day::sightings_of_pilots_max);
    const auto refusal = day.take(seen(5800), day.actor('E')).refusal();
    EXPECT_NE(refusal.next().find("tell the marshal"), std::string::npos) << refusal.next();
    EXPECT_EQ(day.enters_sightings({}, 100), day::sightings_max - day::sightings_of_pilots_max);
    EXPECT_EQ(day.take(seen(5800)).refusal().kind(), v1::Refusal::conflict);
    EXPECT_FALSE(day.take(gone(0, "Ann")).has_refusal());
    EXPECT_FALSE(day.take(seen(5800)).has_refusal());
}

// The finer the frequencies, the longer a decision takes: one sighting would set it for all.
TEST(Sightings, AreKeptToTheMegahertzUnlessAChannelIsMeant) {
    KeptDay day;
    const auto reply = day.take(seen(5769.4));
    EXPECT_NE(reply.done().text().find("5769 MHz"), std::string::npos) << reply.done().text();
    EXPECT_EQ(day.keeper().state().sheet().sightings(0).channel().mhz(), 5769);
    v1::Command named;
    *named.mutable_see()->mutable_channel() = channel("R4");
    day.take(named);
    EXPECT_EQ(day.keeper().state().sheet().sightings(1).channel().name(), "R4");
}

TEST(Marshal, TakesBackAllThatOnePersonEntered) {
    CrowdedDay day;
    for (const double mhz : {5700., 5710., 5720.}) day.take(seen(mhz), day.actor('A'));
    day.take(seen(5730), day.actor('B'));
    const auto before = bytes_of(day.keeper().state());
    EXPECT_EQ(day.take(gone(0, "Ann"), day.actor('B')).refusal().kind(),
              v1::Refusal::not_permitted);
    EXPECT_EQ(day.take(gone(0, "Ann"), day.actor('A')).refusal().kind(),
              v1::Refusal::not_permitted);
    EXPECT_EQ(day.take(gone(1, "Ann")).refusal().kind(), v1::Refusal::malformed);
    EXPECT_EQ(day.take(gone(0, "Anny")).refusal().kind(), v1::Refusal::not_found);
    EXPECT_EQ(bytes_of(day.keeper().state()), before) << "nothing is half taken back";

    const auto reply = day.take(gone(0, "ann"));
    EXPECT_NE(reply.done().text().find("of what Ann entered"), std::string::npos)
        << reply.done().text();
    ASSERT_EQ(day.sheet().sightings_size(), 1);
    EXPECT_EQ(day.sheet().sightings(0).channel().mhz(), 5730);
    const auto entries = day.keeper().answer(testing::log_of("sighting_gone"), day.now_ms()).log();
    EXPECT_EQ(entries.entries_size(), 3) << "an entry each, as if one by one";
    EXPECT_NE(day.take(gone(0, "Ann")).done().text().find("no sighting of Ann's"),
              std::string::npos);
    const auto state = bytes_of(day.keeper().state());
    day.reopen();
    EXPECT_EQ(bytes_of(day.keeper().state()), state);
}

TEST(LimitsOfOne, AreFourRelays) {
    CrowdedDay day;
    ASSERT_FALSE(day.take(put(testing::unclaimed(testing::PilotText{.name = "Cy"})), day.actor('C'))
                     .has_refusal());
    int taken = 0;
    while (taken < 100 &&
           !day.take(put(relay_of("Cy", fmt::format("relay {}", taken))), day.actor('C'))
                .has_refusal())
        ++taken;
    EXPECT_EQ(taken, day::relays_of_one_max);
    const auto refusal = day.take(put(relay_of("Cy", "one more")), day.actor('C')).refusal();
    EXPECT_NE(refusal.why().find("at most 4"), std::string::npos) << refusal.why();
    EXPECT_FALSE(day.take(put(relay_of("Cy", "relay 1")), day.actor('C')).has_refusal())
        << "what is there can be changed";
    EXPECT_FALSE(day.take(put(relay_of("Cy", "one more"))).has_refusal()) << "by the marshal";
    EXPECT_FALSE(day.take(put(relay_of("Bob", "Bob's")), day.actor('B')).has_refusal());
    std::string six;
    for (int i = 0; i < 6; ++i) six += relay_of("Ann", fmt::format("Ann's {}", i));
    EXPECT_TRUE(day.take(put(six), day.actor('A')).has_refusal()) << "nor all at once";
}

TEST(Marshal, TakesOffAllRelaysOfOnePersonThatAreOff) {
    CrowdedDay day;
    for (const auto* name : {"first", "second", "third"})
        day.take(put(relay_of("Dee", name)), day.actor('D'));
    day.take(put(relay_of("Bob", "Bob's")), day.actor('B'));
    day.take(testing::on_already("second", "R2", 14));
    EXPECT_EQ(day.take(removed_by("Dee"), day.actor('D')).refusal().kind(),
              v1::Refusal::not_permitted);
    const auto reply = day.take(removed_by("Dee"));
    EXPECT_EQ(reply.done().text(),
              "no longer on this day, of Dee's: mast, first, third; on the air, and so still here: "
              "second");
    ASSERT_EQ(day.sheet().relays_size(), 2);
    EXPECT_EQ(day.sheet().relays(0).name(), "second");
    EXPECT_EQ(day.sheet().relays(1).name(), "Bob's");
    EXPECT_NE(day::pilot(day.sheet(), "Dee"), nullptr);
}

TEST(LimitsOfOne, AreGearThatTheDayCanHold) {
    CrowdedDay day;
    const auto before = day.sheet().emissions_size();
    int taken = 0;
    while (taken < 100 &&
           !day.take(put(with_emission("Ann", fmt::format("mine-{}", taken))), day.actor('A'))
                .has_refusal())
        ++taken;
    EXPECT_EQ(before + taken, day::gear_of_pilots_max);
    const auto refusal = day.take(put(with_emission("Ann", "one-more")), day.actor('A')).refusal();
    EXPECT_NE(refusal.why().find("40 emissions"), std::string::npos) << refusal.why();
    EXPECT_FALSE(day.take(put(with_emission("Ann", "mine-0")), day.actor('A')).has_refusal());
    EXPECT_FALSE(day.take(put(with_emission("Ann", "one-more"))).has_refusal()) << "the marshal";
}

TEST(Limits, OfPeopleKeepNobodyOutWhoIsListedOrKnown) {
    KeptDay day;
    const auto for_all = day.ticket(v1::Role::pilot);
    int joined = 0;
    const auto joins = [&](const std::string& name) {
        return day.enter_as(for_all, name, name).has_done();
    };
    while (joined < 2 * day::people_max && joins(fmt::format("Visitor {}", joined))) ++joined;
    EXPECT_EQ(joined, day::people_max);
    const auto refusal = day.enter_as(for_all, "Zed", "z").refusal();
    EXPECT_EQ(refusal.kind(), v1::Refusal::unavailable);
    EXPECT_NE(refusal.why().find("500 people"), std::string::npos) << refusal.why();
    EXPECT_TRUE(joins("Ann")) << "whom the day lists";
    EXPECT_TRUE(day.enter(day.ticket(v1::Role::marshal), "Max", 'm').has_done());
    EXPECT_TRUE(day.enter_as(for_all, "Visitor 3", "another phone of theirs").has_done());
    EXPECT_FALSE(joins("Zed"));
}

}  // namespace
}  // namespace fieldpeg::service
