#include "server/day/board.h"
#include "server/day/field_picture.h"
#include "server/day/reach_picture.h"
#include "server/day/spectrum_picture.h"
#include "server/day/state.h"
#include "server/day/timeline_picture.h"
#include "tests/support/crowded_day.h"
#include "tests/support/days.h"
#include "tests/support/random.h"

#include <gtest/gtest.h>

#include <algorithm>
#include <cmath>
#include <cstdint>
#include <set>
#include <string>
#include <vector>

/// Pictures of crowded days, for paper and for a phone: every text is legible, and nobody is
/// missing.
namespace fieldpeg::day {
namespace {

using testing::crowded_day;
using testing::for_all;

v1::Paper paper(double width, double text_size) {
    v1::Paper p;
    p.set_width(width);
    p.set_text_size(text_size);
    return p;
}

/// A4 between its margins, and a phone.
std::vector<v1::Paper> papers() {
    return {paper(1000, 16), paper(360, 13)};
}

struct Text {
    v1::Box box;
    std::string words;
};

template <class Labels>
void add(const Labels& labels, std::vector<Text>& texts) {
    for (const auto& l : labels) {
        std::string words;
        for (const auto& line : l.lines()) words += line + " | ";
        texts.push_back({l.box(), words});
    }
}

/// Boxes are told to a hundredth.
constexpr double rounding = 0.021;

bool overlap(const v1::Box& a, const v1::Box& b) {
    return a.left() + rounding < b.left() + b.width() &&
           b.left() + rounding < a.left() + a.width() &&
           a.top() + rounding < b.top() + b.height() && b.top() + rounding < a.top() + a.height();
}

void expect_legible(const std::vector<Text>& texts, const v1::Paper& paper, double height) {
    for (std::size_t i = 0; i < texts.size(); ++i) {
        const auto& box = texts[i].box;
        EXPECT_GE(box.left(), -rounding) << texts[i].words;
        EXPECT_LE(box.left() + box.width(), paper.width() + rounding) << texts[i].words;
        EXPECT_GE(box.top(), -rounding) << texts[i].words;
        EXPECT_LE(box.top() + box.height(), height + rounding) << texts[i].words;
        for (std::size_t j = i + 1; j < texts.size(); ++j)
            EXPECT_FALSE(overlap(box, texts[j].box))
                << texts[i].words << " lies on " << texts[j].words;
    }
}

/// What a label names, in the picture or, by its number, in the key.
template <class Labels>
std::multiset<std::uint32_t> named(const Labels& labels, v1::Label::Kind kind) {
    std::multiset<std::uint32_t> all;
    for (const auto& l : labels)
        if (l.kind() == kind && !l.in_key()) all.insert(l.of().begin(), l.of().end());
    return all;
}

template <class Labels>
void expect_each_once(const Labels& labels, v1::Label::Kind kind, int count) {
    const auto all = named(labels, kind);
    EXPECT_EQ(all.size(), static_cast<std::size_t>(count));
    for (int i = 0; i < count; ++i)
        EXPECT_EQ(all.count(static_cast<std::uint32_t>(i)), 1U) << v1::Label::Kind_Name(kind) << i;
}

/// Every number of a picture stands in its key, with a name.
template <class Labels, class Key>
void expect_explained(const Labels& labels, const Key& key) {
    for (const auto& l : labels) {
        if (l.number() == 0 || l.in_key()) continue;
        EXPECT_EQ(
            std::ranges::count_if(
                key, [&](const v1::Label& k) { return k.in_key() && k.number() == l.number(); }),
            2)
            << "number " << l.number();
    }
}

TEST(FieldPicture, IsLegibleOnACrowdedDay) {
    for_all(60, [](std::mt19937_64& rng) {
        const auto sheet = crowded_day(rng);
        for (const auto& paper : papers()) {
            v1::FieldPictureQuery query;
            query.set_basis(v1::Basis::held);
            *query.mutable_paper() = paper;
            const auto reply = field_picture(sheet, query);
            std::vector<Text> texts;
            for (const auto& panel : reply.panels()) {
                add(panel.labels(), texts);
                expect_explained(panel.labels(), reply.key());
            }
            add(reply.key(), texts);
            expect_legible(texts, paper, reply.height());
            ASSERT_EQ(reply.panels_size(), 2);
            expect_each_once(reply.panels(0).labels(), v1::Label::area, reply.areas_size());
            expect_each_once(reply.panels(1).labels(), v1::Label::place, reply.places_size());
        }
    });
}

TEST(ReachPicture, IsLegibleOnACrowdedDay) {
    int seen = 0;
    for_all(12, [&](std::mt19937_64& rng) {
        const auto sheet = crowded_day(rng);
        for (std::size_t next = 0; const auto& pilot : sheet.pilots()) {
            if (next == papers().size()) break;
            const auto paper = papers()[next];
            v1::ReachPictureQuery query;
            query.set_basis(v1::Basis::held);
            *query.mutable_paper() = paper;
            const auto reply = reach_picture(sheet, pilot, query);
            if (!reply) continue;
            ++seen;
            ++next;
            std::vector<Text> texts;
            for (const auto& panel : reply->panels()) {
                add(panel.labels(), texts);
                expect_explained(panel.labels(), reply->key());
                expect_each_once(panel.labels(), v1::Label::receiver,
                                 reply->reach().receivers_size());
                EXPECT_EQ(panel.curves_size(), 4 * reply->reach().receivers_size());
            }
            add(reply->key(), texts);
            expect_legible(texts, paper, reply->height());
        }
    });
    EXPECT_GT(seen, 20);
}

// What stands somewhere is drawn inside its panel.
TEST(FieldPicture, HasEverybodyInItsPanels) {
    for_all(30, [](std::mt19937_64& rng) {
        const auto sheet = crowded_day(rng);
        for (const auto& paper : papers()) {
            v1::FieldPictureQuery query;
            *query.mutable_paper() = paper;
            const auto reply = field_picture(sheet, query);
            for (const auto& panel : reply.panels()) {
                EXPECT_LE(panel.box().left() + panel.box().width(), paper.width());
                for (const auto& p : reply.places()) {
                    const double x = (p.place().east_m() - panel.west_m()) * panel.units_per_m();
                    const double y = (panel.north_m() - p.place().north_m()) * panel.units_per_m();
                    EXPECT_TRUE(x > 0 && x < panel.box().width()) << p.place().name();
                    EXPECT_TRUE(y > 0 && y < panel.box().height()) << p.place().name();
                }
            }
        }
    });
}

TEST(SpectrumPicture, IsLegibleOnACrowdedDay) {
    int pictures = 0, products = 0;
    for_all(60, [&](std::mt19937_64& rng) {
        const auto sheet = crowded_day(rng);
        for (int i = 0; i < std::min(2, sheet.pilots_size()); ++i) {
            const auto& pilot = sheet.pilots(i);
            for (const auto& paper : papers()) {
                v1::SpectrumPictureQuery query;
                query.set_pilot(pilot.name());
                query.set_basis(v1::Basis::held);
                *query.mutable_paper() = paper;
                const auto reply = spectrum_picture(sheet, query);
                if (!reply) continue;
                ++pictures;
                products += reply->products_size();
                std::vector<Text> texts;
                add(reply->labels(), texts);
                expect_legible(texts, paper, reply->height());
                expect_explained(reply->labels(), reply->labels());
                expect_each_once(reply->labels(), v1::Label::signal, reply->signals_size());
                expect_each_once(reply->labels(), v1::Label::product, reply->products_size());
            }
        }
    });
    EXPECT_GT(pictures, 100);
    EXPECT_GT(products, 100);
}

// However weak what it is to hear, wherever on the dial, and so wherever the scales' numbers fall.
TEST(SpectrumPicture, IsLegibleWhereverTheScalesNumbersFall) {
    auto sheet = testing::sheet_of(testing::field_text() +
                                   testing::text_of(testing::PilotText{.name = "Ann"}));
    auto& claim = *sheet.mutable_pilots(0)->mutable_claim();
    for (int i = 0; i < 400; ++i) {
        claim.set_power_dbm(-60 + 0.37 * (i % 290));
        claim.mutable_channel()->set_mhz(5700 + 1.7 * (i % 60));
        for (const auto& paper : papers()) {
            v1::SpectrumPictureQuery query;
            query.set_pilot("Ann");
            query.set_basis(v1::Basis::held);
            *query.mutable_paper() = paper;
            const auto reply = spectrum_picture(sheet, query);
            ASSERT_TRUE(reply);
            std::vector<Text> texts;
            add(reply->labels(), texts);
            expect_legible(texts, paper, reply->height());
        }
    }
}

// What arrives is the area under the curve that is drawn: the density of each emission in
// milliwatts a megahertz, added up by the trapezoidal rule, is the level that the reply tells.
TEST(SpectrumPicture, DrawsWhatArrives) {
    for_all(10, [](std::mt19937_64& rng) {
        const auto sheet = crowded_day(rng);
        for (const auto& pilot : sheet.pilots()) {
            v1::SpectrumPictureQuery query;
            query.set_pilot(pilot.name());
            query.set_basis(v1::Basis::held);
            const auto reply = spectrum_picture(sheet, query);
            if (!reply) continue;
            for (const auto& s : reply->signals()) {
                constexpr int steps = 500;
                double mw = 0;
                for (int i = 1; i < s.density_size(); ++i) {
                    const auto &a = s.density(i - 1), &b = s.density(i);
                    const double width = (b.mhz() - a.mhz()) / steps;
                    for (int k = 0; k <= steps; ++k)
                        mw += (k == 0 || k == steps ? 0.5 : 1) * width *
                              std::pow(10, (a.dbm() + (b.dbm() - a.dbm()) * k / steps) / 10);
                }
                EXPECT_NEAR(10 * std::log10(mw), s.arriving_dbm(), 0.01);
            }
        }
    });
}

TEST(TimelinePicture, IsLegibleOnACrowdedDay) {
    for_all(80, [](std::mt19937_64& rng) {
        constexpr std::int64_t until_ms = 8 * 3'600'000;
        v1::DayState state;
        std::uint32_t last_id = 0;
        *state.mutable_sheet() = with_ids(crowded_day(rng), last_id);
        state.set_version(1);
        const auto log = testing::crowded_course(rng, state.sheet(), until_ms);
        for (const auto& paper : papers()) {
            v1::TimelinePictureQuery query;
            query.set_until_ms(until_ms);
            *query.mutable_paper() = paper;
            const auto reply = timeline_picture(board(state), log, query);
            std::vector<Text> texts;
            add(reply.labels(), texts);
            for (const auto& t : reply.ticks()) texts.push_back({t.box(), "tick"});
            expect_legible(texts, paper, reply.height());
            expect_explained(reply.labels(), reply.labels());
            expect_each_once(reply.labels(), v1::Label::transmitter, reply.stretches_size());
            expect_each_once(reply.labels(), v1::Label::row, reply.rows_size());
        }
    });
}

// Bars keep clear of each other and of every name, and lie where their times are.
TEST(TimelinePicture, KeepsBarsApart) {
    for_all(60, [](std::mt19937_64& rng) {
        constexpr std::int64_t until_ms = 8 * 3'600'000;
        v1::BoardReply first;
        first.set_version(1);
        const auto log = testing::crowded_course(rng, crowded_day(rng), until_ms);
        v1::TimelinePictureQuery query;
        query.set_until_ms(until_ms);
        const auto reply = timeline_picture(first, log, query);
        for (const auto& s : reply.stretches()) {
            const double per_ms = reply.frame().width() / until_ms;
            EXPECT_NEAR(s.box().left(),
                        reply.frame().left() + static_cast<double>(s.from_ms()) * per_ms, 0.02);
            EXPECT_NEAR(s.box().width(),
                        std::max(static_cast<double>(s.to_ms() - s.from_ms()) * per_ms, 1.0), 0.02);
            for (const auto& other : reply.stretches())
                EXPECT_TRUE(&s == &other || !overlap(s.box(), other.box()));
            for (const auto& l : reply.labels()) EXPECT_FALSE(overlap(s.box(), l.box()));
        }
    });
}

}  // namespace
}  // namespace fieldpeg::day
