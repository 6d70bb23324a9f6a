#include "client/show/day.h"
#include "client/show/replies.h"

#include "server/book/library.h"
#include "server/day/check.h"
#include "server/day/sweep.h"
#include "tests/support/control.h"
#include "tests/support/days.h"

#include <gtest/gtest.h>

#include <algorithm>
#include <sstream>
#include <string>
#include <vector>

/// What people read of verdicts that may not hold, of kits and of sweeps. The words are our own: no
/// published source.
namespace fieldpeg::show {
namespace {

using testing::field_text;
using testing::PilotText;
using testing::sheet_of;
using testing::text_of;

bool contains(const std::string& text, std::string_view part) {
    return text.find(part) != text.npos;
}

std::string line_with(const std::string& text, std::string_view part) {
    std::istringstream in(text);
    for (std::string line; std::getline(in, line);)
        if (contains(line, part)) return line;
    return "";
}

/// The lines of a section, until the next empty one.
std::string section(const std::string& text, std::string_view title) {
    const auto at = text.find(title);
    if (at == text.npos) return "";
    return text.substr(at, text.find("\n\n", at) - at);
}

v1::PilotResult pilot(const std::string& name, v1::Verdict::Word word) {
    v1::PilotResult r;
    r.set_pilot(name);
    r.set_verdict(word);
    r.set_picture_verdict(word);
    return r;
}
v1::PilotResult doubtful(const std::string& name, v1::Verdict::Word is, v1::Verdict::Word low,
                         v1::Verdict::Word high, v1::Guess::Kind guess) {
    auto r = pilot(name, is);
    auto& at = *r.mutable_outlook();
    at.set_low(low);
    at.set_high(high);
    at.set_would_settle(guess);
    at.set_rests_on("what " + name + " rests on");
    at.set_ask("what " + name + " is to look at?");
    return r;
}
v1::PilotResult holding(const std::string& name) {
    auto r = pilot(name, v1::Verdict::steady);
    r.mutable_outlook()->set_holds(true);
    r.mutable_outlook()->set_low(v1::Verdict::steady);
    r.mutable_outlook()->set_high(v1::Verdict::steady);
    return r;
}

std::string checked(const std::vector<v1::PilotResult>& pilots) {
    v1::CheckReply reply;
    reply.set_basis(v1::Basis::held);
    for (const auto& p : pilots) *reply.add_pilots() = p;
    return check_text(reply, {});
}

// --- the column of check

TEST(CheckOutlook, SaysInItsColumnWhatAVerdictMayBe) {
    using W = v1::Verdict;
    const auto column = [](const v1::PilotResult& r) {
        return line_with(section(checked({r}), "Pilots"), "Ann");
    };
    EXPECT_TRUE(contains(checked({holding("Ann")}), "whatever is guessed"));
    EXPECT_TRUE(contains(column(holding("Ann")), "holds"));
    const auto may_clash =
        column(doubtful("Ann", W::steady, W::clash, W::steady, v1::Guess::others_power));
    EXPECT_TRUE(contains(may_clash, "may be clash")) << may_clash;
    EXPECT_FALSE(contains(may_clash, " or ")) << may_clash;
    const auto either =
        column(doubtful("Ann", W::shaky, W::clash, W::steady, v1::Guess::selectivity));
    EXPECT_TRUE(contains(either, "may be clash or steady")) << either;
    const auto better =
        column(doubtful("Ann", W::clash, W::clash, W::steady, v1::Guess::selectivity));
    EXPECT_TRUE(contains(better, "may be steady")) << better;
    EXPECT_FALSE(contains(column(pilot("Ann", W::steady)), "holds"));
}

// --- its section

TEST(CheckOutlook, AsksForEachGuessOnceAndNamesWhomElseItConcerns) {
    using W = v1::Verdict;
    const auto text = checked(
        {doubtful("Ann", W::steady, W::clash, W::steady, v1::Guess::others_power), holding("Ben"),
         doubtful("Cem", W::tight, W::clash, W::steady, v1::Guess::others_power),
         doubtful("Dee", W::tight, W::shaky, W::tight, v1::Guess::noise_figure)});
    const auto said = section(text, "What is guessed, and what would settle it");
    EXPECT_TRUE(contains(said,
                         "Ann (steady) rests on what Ann rests on. To find out: what Ann is "
                         "to look at? Likewise for Cem."))
        << said;
    EXPECT_TRUE(contains(said,
                         "Dee (tight) rests on what Dee rests on. To find out: what Dee is "
                         "to look at?"))
        << said;
    EXPECT_FALSE(contains(said, "what Cem is"));
    EXPECT_FALSE(contains(said, "Ben"));
}

TEST(CheckOutlook, HasNoSectionWhereEverythingHolds) {
    EXPECT_FALSE(contains(checked({holding("Ann"), holding("Ben")}), "What is guessed"));
}

// --- control

TEST(CheckControl, StandsBeforeEveryPicture) {
    auto r = pilot("Ann", v1::Verdict::control_at_risk);
    r.set_picture_verdict(v1::Verdict::steady);
    r.set_reason("what rules the picture");
    r.mutable_control()->set_reason("control of the aircraft loses all of its channels");
    r.mutable_control()->set_word(v1::Control::at_risk);
    const auto text = checked({holding("Ben"), r});
    EXPECT_TRUE(contains(text, "! Ann: control of the aircraft loses all of its channels"));
    EXPECT_LT(text.find("Control at risk"), text.find("Pilots"));
    EXPECT_TRUE(contains(line_with(section(text, "Pilots"), "Ann"), "see above: control"));
    EXPECT_FALSE(contains(text, "what rules the picture"));
    EXPECT_FALSE(contains(checked({holding("Ben")}), "Control at risk"));
}

TEST(CheckControl, IsNotCalledAtRiskWhereItDoesNotReach) {
    auto r = pilot("Ann", v1::Verdict::steady);
    r.mutable_control()->set_reason("control does not reach the far rim of the area, by itself");
    r.mutable_control()->set_word(v1::Control::too_far);
    const auto text = checked({r});
    EXPECT_TRUE(contains(text, "! Ann: control does not reach"));
    EXPECT_FALSE(contains(text, "Control at risk"));
}

// --- after a claim

v1::CheckReply after_a_claim(const v1::PilotResult& r, const std::string& strongest) {
    v1::CheckReply reply;
    *reply.add_pilots() = r;
    auto& goggles = *reply.add_receivers();
    goggles.set_owner(r.pilot());
    if (!strongest.empty()) goggles.add_contributions()->add_from(strongest);
    return reply;
}

TEST(Doubts, NameWhomAClaimMayYetPutIntoAClash) {
    using W = v1::Verdict;
    const auto ann = doubtful("Ann", W::steady, W::clash, W::steady, v1::Guess::others_power);
    const auto said = doubts_text(after_a_claim(ann, "Mo"), "Mo", {});
    EXPECT_TRUE(contains(said,
                         "Ann is steady, and may be in a clash: that rests on what Ann rests "
                         "on. To find out: what Ann is to look at?"))
        << said;
    EXPECT_NE(doubts_text(after_a_claim(ann, ""), "Ann", {}), "");  // the claim is her own
}

TEST(Doubts, AreNoneOfWhomItIsNoneOf) {
    using W = v1::Verdict;
    const auto guess = v1::Guess::others_power;
    const auto may_clash = doubtful("Ann", W::steady, W::clash, W::steady, guess);
    EXPECT_EQ(doubts_text(after_a_claim(may_clash, "Ben"), "Mo", {}), "");  // another is to blame
    EXPECT_EQ(doubts_text(after_a_claim(may_clash, ""), "Mo", {}), "");
    EXPECT_EQ(
        doubts_text(after_a_claim(doubtful("Ann", W::steady, W::shaky, W::steady, guess), "Mo"),
                    "Mo", {}),
        "");
    EXPECT_EQ(
        doubts_text(after_a_claim(doubtful("Ann", W::clash, W::clash, W::steady, guess), "Mo"),
                    "Mo", {}),
        "");  // said by the claim itself
    EXPECT_EQ(doubts_text(after_a_claim(holding("Ann"), "Mo"), "Mo", {}), "");
}

// --- kits

TEST(KitsText, HasALineForEachAndHowToGoOn) {
    const auto text = kits_text(book::library(), {});
    for (const auto& kit : book::library().kits()) {
        const auto line = line_with(text, kit.name() + " ");
        EXPECT_TRUE(contains(line, kit.title())) << kit.name();
        EXPECT_TRUE(contains(line, kit.look())) << kit.name();
    }
    EXPECT_TRUE(contains(text, "'fieldpeg kits NAME' shows what it brings"));
    EXPECT_TRUE(contains(text, "reckoned with its range"));
}

TEST(KitsText, ShowsWhatOneBringsAsADayFileHasIt) {
    v1::Library one;
    *one.add_kits() = *std::ranges::find(book::library().kits(), "usual-quad", &v1::Kit::name);
    const auto text = kits_text(one, {});
    EXPECT_TRUE(contains(text, "kit usual-quad"));
    EXPECT_TRUE(contains(text, one.kits(0).title()));
    EXPECT_TRUE(contains(text, one.kits(0).look()));
    EXPECT_TRUE(contains(text, "emission = ")) << text;
    EXPECT_FALSE(contains(text, "'fieldpeg kits NAME'"));
    EXPECT_EQ(gear_text(one, {}), text);
}

// --- sweeps

v1::Reply swept(const v1::SweepReply& reply) {
    v1::Reply all;
    *all.mutable_swept() = reply;
    return all;
}
std::string text_of_sweep(const v1::SweepReply& reply) {
    return reply_text(swept(reply), 0, {});
}

v1::Sweep quiet() {
    v1::Sweep sweep;
    sweep.set_start_mhz(5600);
    sweep.set_step_mhz(1);
    sweep.set_resolution_mhz(1);
    for (int i = 0; i <= 400; ++i) sweep.add_level_dbm(-100);
    return sweep;
}

TEST(SweepText, NamesWhatStandsOutAndWhoHoldsIt) {
    auto sweep = quiet();
    for (int i = 128; i <= 136; ++i) sweep.set_level_dbm(i, -50);  // R3
    for (int i = 216; i <= 224; ++i) sweep.set_level_dbm(i, -70);
    const auto day = sheet_of(field_text() + text_of(PilotText{.name = "Ann", .channel = "R3"}));
    const auto text = text_of_sweep(day::read_against(sweep, day));
    EXPECT_TRUE(text.starts_with("Measured from 5600 to 6000 MHz")) << text;
    EXPECT_TRUE(contains(line_with(text, "5732.0"), "Ann")) << text;
    EXPECT_TRUE(contains(line_with(text, "5820.0"), "nobody")) << text;
    EXPECT_TRUE(contains(text, "! something is on the air around 5820 MHz")) << text;
    EXPECT_TRUE(contains(text, "Noise floor -100.0 dBm in 1 MHz; assumed -1")) << text;
    EXPECT_TRUE(text.ends_with("Nothing was entered.\n")) << text;
}

TEST(SweepText, SaysWhatWasEnteredAndWhetherItCounts) {
    v1::SweepReply reply = day::read_against(quiet(), sheet_of(field_text()));
    EXPECT_TRUE(contains(text_of_sweep(reply), "Nothing stands out of the noise."));
    EXPECT_TRUE(contains(text_of_sweep(reply), "no receiver of the day listens there"));
    reply.set_entered(true);
    EXPECT_TRUE(contains(text_of_sweep(reply), "It is on the log, and in the pictures"));
    reply.set_floor_used(true);
    EXPECT_TRUE(contains(text_of_sweep(reply), "its noise floor counts from now on"));
}

TEST(SweepText, ShowsTwentyAtMostAndSaysHowManyMore) {
    v1::SweepReply reply;
    for (int i = 0; i < 23; ++i) {
        auto& hump = *reply.add_humps();
        hump.set_centre_mhz(5600 + 10 * i);
        hump.set_level_dbm(-40 - i);
    }
    const auto text = text_of_sweep(reply);
    EXPECT_TRUE(contains(text, "5790.0"));   // the twentieth
    EXPECT_FALSE(contains(text, "5800.0"));  // the next
    EXPECT_TRUE(contains(text, "and 3 weaker ones"));
}

// --- a real day

TEST(CheckOutlook, OfARealDayHasAWordForEverybodyWhoSeesSomething) {
    const auto sheet =
        sheet_of(field_text() + text_of(PilotText{.name = "Ann", .channel = "R1"}) +
                 text_of(PilotText{.name = "Ben", .place = "line-2", .channel = "R2"}));
    const auto reply = day::check(sheet, v1::Basis::held, 3);
    const auto text = check_text(reply, {});
    for (const auto& p : reply.pilots()) {
        const auto line = line_with(section(text, "Pilots"), p.pilot());
        EXPECT_EQ(contains(line, "holds"), p.outlook().holds()) << line;
        EXPECT_EQ(contains(line, "may be"), !p.outlook().holds()) << line;
    }
}

}  // namespace
}  // namespace fieldpeg::show
