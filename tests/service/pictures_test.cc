#include "server/service/pictures.h"

#include "client/show/json.h"
#include "server/service/answer.h"
#include "tests/support/days.h"
#include "tests/support/kept_day.h"
#include "tests/support/pegs.h"

#include <gtest/gtest.h>
#include <nlohmann/json.hpp>

#include <algorithm>
#include <cmath>
#include <limits>
#include <set>
#include <string>

/// Pictures are answered as other questions are: of a day file, of the day as it goes on, and of
/// its past.
namespace fieldpeg::service {
namespace {

using nlohmann::json;
using testing::claim;
using testing::field_text;
using testing::KeptDay;
using testing::on;
using testing::PilotText;
using testing::RelayText;
using testing::sheet_of;
using testing::text_of;

const v1::DaySheet& three_and_a_mast() {
    static const auto sheet = sheet_of(
        field_text() + text_of(PilotText{.name = "Ann", .channel = "R5"}) +
        text_of(PilotText{.name = "Ben", .place = "line-2", .channel = "R1", .power_mw = "1000"}) +
        text_of(PilotText{.name = "Dee",
                          .place = "chair",
                          .channel = "1280",
                          .area = "valley",
                          .more_video = ""}) +
        text_of(RelayText{.name = "mast", .owner = "Dee", .channel = "R3", .power_mw = "1000"}));
    return sheet;
}

v1::Query spectrum_of(const std::string& pilot, const std::string& receiver = "") {
    v1::Query query;
    query.mutable_spectrum_picture()->set_pilot(pilot);
    query.mutable_spectrum_picture()->set_receiver(receiver);
    return query;
}

v1::Query field() {
    v1::Query query;
    query.mutable_field_picture();
    return query;
}

v1::Query timeline() {
    v1::Query query;
    query.mutable_timeline_picture();
    return query;
}

TEST(SpectrumPicture, ShowsWhatArrivesAndWhatHits) {
    const auto reply = answer(spectrum_of("Ann"), &three_and_a_mast()).spectrum_picture();
    EXPECT_EQ(reply.basis(), v1::Basis::held);
    EXPECT_EQ(reply.result().owner(), "Ann");
    EXPECT_EQ(reply.result().channel(), "R5");
    ASSERT_EQ(reply.signals_size(), 3);  // by frequency; Dee's 1280 MHz is another band
    EXPECT_EQ(reply.signals(0).transmitter(), "Ben");
    EXPECT_EQ(reply.signals(1).transmitter(), "mast");
    EXPECT_TRUE(reply.signals(1).is_relay());
    EXPECT_TRUE(reply.signals(2).wanted());
    // 2 x 5732 - 5658 = 5806 MHz [arithmetic].
    ASSERT_FALSE(reply.products().empty());
    EXPECT_EQ(reply.products(0).contribution().product_mhz(), 5806);
    // What the receiver is told to hear of is what 'check' tells of it.
    v1::Query check;
    check.mutable_check()->set_contributions(20);
    const auto checked = answer(check, &three_and_a_mast()).check();
    const auto ann = std::ranges::find(checked.receivers(), "Ann", &v1::ReceiverResult::owner);
    EXPECT_EQ(reply.result().margin_ref_db(), ann->margin_ref_db());
    const auto strongest =
        std::ranges::find_if(ann->contributions(), &v1::Contribution::has_product_mhz);
    EXPECT_EQ(reply.products(0).contribution().level_dbm(), strongest->level_dbm());
}

TEST(SpectrumPicture, FindsThePilotAsOtherQuestionsDo) {
    EXPECT_EQ(answer(spectrum_of("ANN"), &three_and_a_mast()).spectrum_picture().result().owner(),
              "Ann");
}

TEST(SpectrumPicture, RefusesWhoHearsNothing) {
    const auto refused = [](const v1::Query& query) {
        return answer(query, &three_and_a_mast()).refusal().kind();
    };
    EXPECT_EQ(refused(spectrum_of("Zoe")), v1::Refusal::not_found);
    EXPECT_EQ(refused(spectrum_of("Ann", "no such")), v1::Refusal::conflict);
    EXPECT_EQ(answer(spectrum_of("Ann"), nullptr).refusal().kind(), v1::Refusal::malformed);
}

TEST(FieldPicture, ShowsPlacesRelaysAndWhomTheySwamp) {
    const auto reply = answer(field(), &three_and_a_mast()).field_picture();
    EXPECT_EQ(reply.places_size(), three_and_a_mast().field().places_size());
    EXPECT_EQ(reply.places(0).pilots(0), "Ann");
    ASSERT_EQ(reply.relays_size(), 1);
    const auto& mast = reply.relays(0);
    EXPECT_EQ(mast.place(), "tripod");
    EXPECT_GT(mast.swamps_within_m(), 0.3);
    EXPECT_NE(mast.swamps_owner(), "Dee");
    ASSERT_EQ(mast.links_size(), 1);
    EXPECT_EQ(mast.links(0).place(), "chair");
}

TEST(TimelinePicture, NeedsALog) {
    EXPECT_EQ(answer(timeline(), &three_and_a_mast()).refusal().kind(), v1::Refusal::malformed);
}

TEST(Pictures, AreOfThePastToo) {
    KeptDay day;
    day.take(claim("Ann", "R3"));
    const auto held = day.take(on("Ann")).version();
    day.take(claim("Bob", "R6"));
    day.take(on("Bob"));
    const auto asked = [&](v1::Query query, std::uint64_t version) {
        query.mutable_moment()->set_version(version);
        return day.keeper().answer(query, day.now_ms());
    };
    auto ann = spectrum_of("Ann");
    ann.mutable_spectrum_picture()->set_basis(v1::Basis::on_air);
    EXPECT_EQ(asked(ann, held).spectrum_picture().signals_size(), 1);
    EXPECT_EQ(asked(ann, held).version(), held);
    EXPECT_EQ(asked(ann, 0).spectrum_picture().signals_size(), 2);
    EXPECT_EQ(asked(field(), held).version(), held);

    const auto then = asked(timeline(), held).timeline_picture();
    const auto now = asked(timeline(), 0).timeline_picture();
    EXPECT_LT(then.stretches_size(), now.stretches_size());
    EXPECT_EQ(then.busiest_version(), held);
    EXPECT_GT(now.busiest_version(), held);
    EXPECT_EQ(now.until_ms(), std::max(day.now_ms(), now.from_ms() + 60'000));
    EXPECT_TRUE(std::ranges::none_of(then.stretches(), [](const auto& s) {
        return s.transmitter() == "Bob" && s.kind() == "on_air";
    }));
    v1::Query before = timeline();
    before.mutable_moment()->set_at_ms(1);
    EXPECT_EQ(day.keeper().answer(before, day.now_ms()).refusal().kind(), v1::Refusal::not_found);
}

TEST(TimelinePicture, EndsWhereItIsToldTo) {
    KeptDay day;
    day.take(claim("Ann", "R3"));
    auto query = timeline();
    const auto from_ms = day.keeper().answer(query, day.now_ms()).timeline_picture().from_ms();
    query.mutable_timeline_picture()->set_until_ms(from_ms + 3'600'000);
    const auto hour = day.keeper().answer(query, day.now_ms()).timeline_picture();
    EXPECT_EQ(hour.until_ms(), from_ms + 3'600'000);
    EXPECT_EQ(hour.stretches(0).to_ms(), from_ms + 3'600'000);
    query.mutable_timeline_picture()->set_until_ms(std::numeric_limits<std::int64_t>::max());
    EXPECT_LT(day.keeper().answer(query, day.now_ms()).timeline_picture().ticks_size(), 40);
    query.mutable_timeline_picture()->set_until_ms(std::numeric_limits<std::int64_t>::min());
    EXPECT_EQ(day.keeper().answer(query, day.now_ms()).timeline_picture().until_ms(),
              from_ms + 60'000);
}

TEST(Paper, OnWhichNothingCanBeReadIsRefused) {
    struct {
        double width, text_size;
        bool is_good;
    } const papers[] = {
        {0, 0, true},
        {360, 13, true},
        {1000, 50, true},
        {1000, 51, false},
        {1000, 4, false},
        {199, 8, false},
        {10'001, 100, false},
        {360, 0, true},  // 16 is a twentieth of 320
        {300, 0, false},
        {-1000, -16, false},
        {std::nan(""), 13, false},
        {1000, std::nan(""), false},
        {std::numeric_limits<double>::infinity(), 13, false},
    };
    KeptDay day;
    for (const auto& [width, text_size, is_good] : papers) {
        for (auto query : {spectrum_of("Ann"), field(), timeline()}) {
            v1::Paper paper;
            paper.set_width(width);
            paper.set_text_size(text_size);
            if (query.has_spectrum_picture())
                *query.mutable_spectrum_picture()->mutable_paper() = paper;
            else if (query.has_field_picture())
                *query.mutable_field_picture()->mutable_paper() = paper;
            else
                *query.mutable_timeline_picture()->mutable_paper() = paper;
            const auto reply = query.has_timeline_picture()
                                   ? day.keeper().answer(query, day.now_ms())
                                   : answer(query, &three_and_a_mast());
            EXPECT_EQ(reply.has_refusal(), !is_good) << width << " " << text_size;
            if (!is_good) {
                EXPECT_EQ(reply.refusal().kind(), v1::Refusal::out_of_range);
                EXPECT_TRUE(reply.refusal().where().starts_with("paper.")) << "says what";
                EXPECT_TRUE(reply.refusal().next().starts_with("from ")) << "says the limits";
            }
        }
    }
}

using Keys = std::set<std::string>;

void expect_names(const json& object, const Keys& names) {
    for (const auto& name : names) EXPECT_TRUE(object.contains(name)) << name;
}

// Clubs script against these names, so they stay.
TEST(PictureJson, HasItsFieldNames) {
    const auto dial = json::parse(
        show::json_text(answer(spectrum_of("Ann"), &three_and_a_mast()).spectrum_picture()));
    expect_names(dial, {"basis", "result", "in_mhz", "low_mhz", "high_mhz", "bottom_dbm", "top_dbm",
                        "noise_dbm", "signals", "selectivity", "products", "elsewhere", "paper",
                        "height", "frame", "grid_mhz", "grid_dbm", "labels"});
    expect_names(dial.at("signals").at(0), {"transmitter", "owner", "is_relay", "channel", "wanted",
                                            "sent_dbm", "arriving_dbm", "density"});
    expect_names(dial.at("signals").at(0).at("density").at(0), {"mhz", "dbm"});
    expect_names(dial.at("products").at(0), {"contribution", "density"});
    expect_names(dial.at("labels").at(0),
                 {"kind", "of", "lines", "box", "align", "number", "in_key"});
    expect_names(dial.at("frame"), {"left", "top", "width", "height"});
    const auto map =
        json::parse(show::json_text(answer(field(), &three_and_a_mast()).field_picture()));
    expect_names(
        map, {"field", "basis", "areas", "places", "relays", "paper", "height", "panels", "key"});
    expect_names(map.at("panels").at(0),
                 {"kind", "box", "west_m", "north_m", "units_per_m", "scale_m", "scale", "labels"});
    expect_names(map.at("relays").at(0),
                 {"relay", "owner", "channel", "power_dbm", "place", "swamps_within_m",
                  "swamps_owner", "swamps_receiver", "links"});
    KeptDay day;
    day.take(claim("Ann", "R3"));
    const auto course = json::parse(
        show::json_text(day.keeper().answer(timeline(), day.now_ms()).timeline_picture()));
    expect_names(course,
                 {"day", "from_ms", "until_ms", "rows", "stretches", "warnings", "busiest_version",
                  "busiest_ms", "paper", "height", "frame", "ticks", "labels"});
    expect_names(course.at("stretches").at(0),
                 {"transmitter", "kind", "mhz", "power_dbm", "from_ms", "to_ms", "by", "box"});
}

}  // namespace
}  // namespace fieldpeg::service
