#include "server/book/library.h"

#include "server/book/channels.h"
#include "server/book/names.h"
#include "server/book/reader.h"

#include <google/protobuf/message.h>
#include <gtest/gtest.h>

#include <set>
#include <string>

namespace fieldpeg::book {
namespace {

/// Every definition says of every value that was written where it comes from, once.
template <class List>
void expect_sourced(const List& list, const std::set<std::string>& keys) {
    ASSERT_FALSE(list.empty());
    for (const auto& one : list) {
        std::set<std::string> said;
        for (const auto& p : one.provenance()) {
            EXPECT_TRUE(said.insert(p.key()).second) << one.name() << ", " << p.key() << " twice";
            EXPECT_TRUE(p.kind() == v1::Provenance::published ||
                        p.kind() == v1::Provenance::derived || p.kind() == v1::Provenance::assumed)
                << one.name() << ", " << p.key();
            EXPECT_FALSE(p.source().empty()) << one.name() << ", " << p.key();
        }
        for (const auto& key : keys) EXPECT_TRUE(said.contains(key)) << one.name() << ", " << key;
    }
}

TEST(Library, SaysOfEveryValueWhereItComesFrom) {
    const auto& all = library();
    expect_sourced(all.emissions(), {"density_db", "sigma_mhz", "constant_envelope"});
    expect_sourced(all.receivers(), {"selectivity_db", "noise_figure_db", "iip3_dbm", "p1db_dbm",
                                     "strongest_wanted_dbm", "watchable_db", "sharp_db",
                                     "front_end_mhz", "front_end_rejection_db"});
    expect_sourced(all.antennas(), {"gain_dbi", "vertical_width_deg", "floor_db", "polarisation"});
    expect_sourced(all.control_links(),
                   {"band_mhz", "bandwidth_mhz", "noise_figure_db", "required_db", "hopping"});
    expect_sourced(all.positioning_receivers(), {"bands_mhz", "noise_figure_db"});
    for (const auto& row : all.rows()) {
        ASSERT_EQ(row.provenance_size(), 1) << row.title();
        EXPECT_FALSE(row.provenance(0).source().empty()) << row.title();
    }
}

TEST(Library, SaysOfEveryRuleAndServiceWhereItComesFrom) {
    for (const auto& rules : library().rule_sets()) {
        EXPECT_FALSE(rules.source().empty()) << rules.name();
        EXPECT_FALSE(rules.edition().empty()) << rules.name();
        EXPECT_FALSE(rules.date().empty()) << rules.name();
        EXPECT_FALSE(rules.allowances().empty()) << rules.name();
    }
    for (const auto& service : library().services()) EXPECT_FALSE(service.source().empty());
}

// No letter rows but those, no row that calls two frequencies by one name.
TEST(Library, HasTheFiveLetterRows) {
    std::string letters;
    std::set<std::string> names;
    for (const auto& row : library().rows()) {
        letters += row.name();
        if (!row.name().empty()) {
            EXPECT_EQ(row.channels_size(), 8) << row.name();
        }
        for (const auto& channel : row.channels())
            EXPECT_TRUE(names.insert(channel.name()).second) << channel.name();
    }
    EXPECT_EQ(letters, "ABEFR");
}

// What a pilot reads on the goggles is what the tool understands: MHz beside every letter.
TEST(Library, ReadsBackEveryChannelOfItsRows) {
    const ChannelNames names(library().rows());
    for (const auto& row : library().rows()) {
        for (const auto& channel : row.channels()) {
            std::string why;
            const auto read = names.read(channel.name(), why);
            ASSERT_TRUE(read) << channel.name() << ": " << why;
            EXPECT_EQ(read->mhz(), channel.mhz());
        }
    }
}

template <class List>
void expect_distinct(const List& list) {
    std::set<std::string> keys;
    for (const auto& one : list) {
        std::string why;
        EXPECT_EQ(proper_name(one.name(), why), one.name()) << why;
        EXPECT_TRUE(keys.insert(name_key(one.name())).second) << one.name();
        EXPECT_FALSE(one.title().empty()) << one.name();
    }
}

TEST(Library, HasDistinctNamesWithTitles) {
    expect_distinct(library().emissions());
    expect_distinct(library().receivers());
    expect_distinct(library().antennas());
    expect_distinct(library().control_links());
    expect_distinct(library().positioning_receivers());
    expect_distinct(library().rule_sets());
}

TEST(Library, GivesDerivedValuesBesideTheWrittenOnes) {
    for (const auto& emission : library().emissions()) {
        EXPECT_GT(emission.occupied_mhz(), 0) << emission.name();
        EXPECT_GT(emission.necessary_mhz(), 0) << emission.name();
        EXPECT_FALSE(emission.designator().empty()) << emission.name();
    }
    for (const auto& receiver : library().receivers()) {
        EXPECT_GT(receiver.noise_bandwidth_mhz(), 0) << receiver.name();
        EXPECT_LT(receiver.front_end_low_mhz(), receiver.front_end_high_mhz()) << receiver.name();
        EXPECT_LE(receiver.watchable_db(), receiver.sharp_db()) << receiver.name();
    }
}

Problems problems_of(std::string_view text, Sourced sourced) {
    Problems problems;
    const auto table = parse_toml(text, "gear.toml", problems);
    if (!table) return problems;
    v1::Library into;
    Reader reader(*table, "gear.toml", "", problems);
    read_gear(reader, sourced, into);
    reader.finish();
    return problems;
}

constexpr std::string_view whip = R"([antenna.whip]
gain_dbi = 2
floor_db = 15
polarisation = "linear"
)";

// The library's own values need a source; a pilot's, written in a day file, are declared.
TEST(ReadGear, AsksTheLibraryForSourcesAndADayFileForNone) {
    EXPECT_TRUE(problems_of(whip, Sourced::may).empty());
    const auto problems = problems_of(whip, Sourced::must);
    ASSERT_EQ(problems.size(), 1u);
    EXPECT_EQ(problems[0].key, "antenna 'whip', provenance");
    EXPECT_EQ(problems[0].what, "is missing");
}

TEST(ReadGear, RefusesAProvenanceThatIsNone) {
    for (const auto* pair : {R"(["guessed", "somebody"])", R"(["declared", "somebody"])",
                             R"(["assumed", ""])", R"(["assumed"])", "[]"}) {
        const auto problems = problems_of(
            std::string(whip) + "[antenna.whip.provenance]\ngain_dbi = " + pair, Sourced::may);
        ASSERT_EQ(problems.size(), 1u) << pair;
        EXPECT_EQ(problems[0].what, "is no provenance") << pair;
        EXPECT_EQ(problems[0].line, 6u) << pair;
    }
}

// 107.6 x 10^(-0.1 x 2) degrees, from the gain alone.
TEST(ReadGear, TakesTheWidthOfAnAntennaFromItsGain) {
    Problems problems;
    const auto table = parse_toml(whip, "gear.toml", problems);
    ASSERT_TRUE(table);
    v1::Library into;
    Reader reader(*table, "gear.toml", "", problems);
    read_gear(reader, Sourced::may, into);
    ASSERT_EQ(into.antennas_size(), 1);
    EXPECT_NEAR(into.antennas(0).vertical_width_deg(), 67.89, 0.01);
    for (const auto& p : into.antennas(0).provenance())
        EXPECT_EQ(p.kind() == v1::Provenance::published, p.key() == "vertical_width_deg")
            << p.key();
}

}  // namespace
}  // namespace fieldpeg::book
