#include "client/show/json.h"
#include "server/service/answer.h"
#include "tests/support/days.h"

#include <gtest/gtest.h>
#include <nlohmann/json.hpp>

#include <cmath>
#include <functional>
#include <set>
#include <stdexcept>
#include <string>

/// Clubs script against these names, so they stay.
namespace fieldpeg::service {
namespace {

using nlohmann::json;
using testing::field_text;
using testing::PilotText;
using testing::RelayText;
using testing::sheet_of;
using testing::text_of;

using Keys = std::set<std::string>;

Keys keys_of(const json& object) {
    Keys keys;
    for (const auto& [key, value] : object.items()) keys.insert(key);
    return keys;
}

/// Names may be added, but none may go or change.
void expect_names(const json& object, const Keys& names) {
    const auto keys = keys_of(object);
    for (const auto& name : names) EXPECT_TRUE(keys.contains(name)) << name;
}

/// Ann, Ben and Cem in the air with products on each other, Edda's claim is held; Dee's mast.
const v1::DaySheet& day_of_five() {
    static const auto sheet = sheet_of(
        field_text() + text_of(PilotText{.name = "Ann", .channel = "R2", .power_mw = "200"}) +
        text_of(PilotText{.name = "Ben", .place = "line-2", .channel = "R3", .power_mw = "200"}) +
        text_of(PilotText{.name = "Cem", .place = "line-3", .channel = "R4", .power_mw = "600"}) +
        text_of(PilotText{.name = "Edda", .place = "line-4", .channel = "R7", .stage = ""}) +
        text_of(PilotText{.name = "Dee",
                          .place = "chair",
                          .channel = "R5",
                          .more_goggles = "hears = \"video\""}) +
        text_of(RelayText{.name = "mast", .owner = "Dee"}));
    return sheet;
}

json check(v1::Basis::Kind basis = v1::Basis::on_air) {
    v1::Query query;
    query.mutable_check()->set_basis(basis);
    query.mutable_check()->set_contributions(200);
    return json::parse(show::json_text(answer(query, &day_of_five()).check()));
}

json relay_check(double power_dbm) {
    v1::Query query;
    query.mutable_relay_check()->set_relay("mast");
    query.mutable_relay_check()->set_power_dbm(power_dbm);
    return json::parse(show::json_text(answer(query, &day_of_five()).relay_check()));
}

const json& named(const json& list, const char* key, const char* name) {
    for (const auto& one : list)
        if (one.at(key) == name) return one;
    throw std::logic_error(std::string("no ") + name);
}

TEST(CheckJson, HasItsFieldNames) {
    const auto reply = check();
    expect_names(reply, (Keys{"basis", "model", "receivers", "pilots", "bench", "too_far",
                              "remarks", "cautions"}));
    EXPECT_EQ(reply.at("basis"), "on_air");
    const auto& ann = named(reply.at("receivers"), "owner", "Ann");
    expect_names(ann, (Keys{"owner", "receiver", "channel", "channel_mhz", "margin_ref_db",
                            "margin_worst_db", "verdict", "picture", "wanted_dbm", "noise_dbm",
                            "interference_dbm", "blocker_dbm", "contributions", "reason", "relay",
                            "hears", "sent_dbm"}));
    EXPECT_EQ(ann.at("channel"), "R2");
    EXPECT_EQ(ann.at("channel_mhz"), 5695);
    expect_names(named(reply.at("pilots"), "pilot", "Ann"),
                 (Keys{"pilot", "margin_ref_db", "margin_worst_db", "verdict", "picture"}));
}

TEST(CheckJson, HasTheFieldNamesOfContributions) {
    const auto reply = check();
    Keys kinds;
    for (const auto& r : reply.at("receivers")) {
        for (const auto& c : r.at("contributions")) {
            kinds.insert(c.at("kind"));
            const bool product = c.at("from").size() > 1;
            EXPECT_EQ(keys_of(c),
                      product ? (Keys{"kind", "from", "from_mhz", "product_mhz", "level_dbm"})
                              : (Keys{"kind", "from", "from_mhz", "level_dbm"}));
            EXPECT_EQ(c.at("from").size(), c.at("from_mhz").size());
        }
    }
    EXPECT_TRUE(kinds.contains("adjacent"));
    EXPECT_TRUE(kinds.contains("receiver_product"));
    for (const auto& kind : kinds)
        EXPECT_TRUE((Keys{"co_channel", "adjacent", "receiver_product", "transmitter_product"})
                        .contains(kind))
            << kind;
}

// What may not exist is absent, and neither null nor infinite.
TEST(CheckJson, LeavesOutWhatDoesNotExist) {
    const auto reply = check();
    const auto& edda = named(reply.at("receivers"), "owner", "Edda");
    EXPECT_EQ(edda.at("verdict"), "no_picture");
    EXPECT_EQ(edda.at("picture"), "broken");
    for (const auto* key : {"channel_mhz", "margin_ref_db", "margin_worst_db", "wanted_dbm",
                            "noise_dbm", "interference_dbm", "blocker_dbm", "sent_dbm"})
        EXPECT_FALSE(edda.contains(key)) << key;
    EXPECT_TRUE(edda.at("contributions").empty());
    EXPECT_FALSE(named(reply.at("pilots"), "pilot", "Edda").contains("margin_ref_db"));
}

// Zero and empty values are printed all the same.
TEST(CheckJson, PrintsWhatIsZeroOrEmpty) {
    const auto reply = check();
    EXPECT_TRUE(reply.at("bench").is_array() && reply.at("bench").empty());
    EXPECT_EQ(named(reply.at("receivers"), "owner", "Ann").at("relay"), "");
    const v1::CheckReply nothing;
    EXPECT_EQ(json::parse(show::json_text(nothing)).at("basis"), "unknown");
    v1::ReceiverResult at_zero;
    at_zero.set_margin_ref_db(0);
    const auto zero = json::parse(show::json_text(at_zero));
    EXPECT_EQ(zero.at("margin_ref_db"), 0);
    EXPECT_FALSE(zero.contains("margin_worst_db"));
    EXPECT_EQ(zero.at("verdict"), "unknown");
}

/// Every number anywhere below, with the key it stands under.
void for_each_number(const json& value, const std::string& key,
                     const std::function<void(const std::string&, double)>& visit) {
    if (value.is_object())
        for (const auto& [name, inner] : value.items()) for_each_number(inner, name, visit);
    else if (value.is_array())
        for (const auto& inner : value) for_each_number(inner, key, visit);
    else if (value.is_number())
        visit(key, value.get<double>());
}

TEST(Json, HasNumbersRoundedToAThousandth) {
    v1::Query explain;
    explain.mutable_explain()->set_pilot("Ann");
    explain.mutable_explain()->set_contributions(20);
    const auto explained = json::parse(show::json_text(answer(explain, &day_of_five()).explain()));
    int numbers = 0;
    for (const auto& reply : {check(), check(v1::Basis::held), relay_check(20.123456), explained}) {
        for_each_number(reply, "", [&](const std::string& key, double value) {
            EXPECT_NEAR(value * 1000, std::round(value * 1000), 1e-6) << key;
            ++numbers;
        });
    }
    EXPECT_GT(numbers, 200);
}

TEST(RelayCheckJson, HasItsFieldNames) {
    const auto reply = relay_check(27.782);
    expect_names(reply, (Keys{"relay", "owner", "channel", "asked_dbm", "answer", "ref", "worst",
                              "harmed", "advice", "eirp_dbm", "keep_away_m", "remarks", "cautions",
                              "assumed", "sentence"}));
    for (const auto* geometry : {"ref", "worst"}) {
        const auto& window = reply.at(geometry);
        for (const auto* key : {"limited_by", "below_before", "reason"})
            EXPECT_TRUE(window.contains(key)) << geometry << " " << key;
        for (const auto& key : keys_of(window))
            EXPECT_TRUE((Keys{"floor_dbm", "ceiling_dbm", "limited_by", "below_before", "reason"})
                            .contains(key))
                << key;
        expect_names(window.at("limited_by"), (Keys{"owner", "receiver", "kind"}));
        for (const auto& below : window.at("below_before"))
            expect_names(below, (Keys{"owner", "receiver"}));
    }
    EXPECT_EQ(reply.at("channel").at("mhz"), 5917);
}

TEST(RelayCheckJson, HasAFloorAndACeilingWhereTheyExist) {
    v1::Query query;
    auto* ask = query.mutable_bare_relay_check();
    ask->mutable_channel()->set_mhz(5800);
    ask->set_power_dbm(14);
    ask->set_owner_distance_m(22);
    ask->mutable_neighbour_channel()->set_mhz(5843);
    ask->set_neighbour_distance_m(20);
    ask->set_neighbour_power_dbm(14);
    ask->set_neighbour_range_m(130);
    auto reply = json::parse(show::json_text(answer(query, nullptr).relay_check()));
    EXPECT_EQ(reply.at("answer"), "fits");
    EXPECT_TRUE(reply.at("ref").contains("floor_dbm") && reply.at("ref").contains("ceiling_dbm"));
    ask->mutable_neighbour_channel()->set_mhz(5800);
    ask->set_neighbour_distance_m(0.5);
    reply = json::parse(show::json_text(answer(query, nullptr).relay_check()));
    EXPECT_EQ(reply.at("answer"), "no_window");
    EXPECT_FALSE(reply.at("ref").contains("ceiling_dbm"));
    EXPECT_NE(reply.at("ref").at("reason"), "");
}

}  // namespace
}  // namespace fieldpeg::service
