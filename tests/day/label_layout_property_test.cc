#include "server/day/label_layout.h"

#include "tests/support/random.h"

#include <gtest/gtest.h>

#include <algorithm>
#include <set>
#include <string>
#include <vector>

namespace fieldpeg::day {
namespace {

using testing::between;
using testing::chance;
using testing::for_all;
using testing::one_of;
using testing::whole;

constexpr Type type{16};
const Rect frame{10, 20, 400, 300};

Mark mark(double x, double y, const std::string& name, Mark::Name how = Mark::Name::beside) {
    return {{x, y}, 4, how, {name}};
}

/// So near that nobody sees it: boxes that touch.
Rect shrunk(const Rect& box) {
    return box.grown(-0.01);
}

TEST(Named, StandsBesideALoneMark) {
    const std::vector marks = {mark(100, 100, "line-1: Ann")};
    const auto names = named(frame, marks, {}, type);
    ASSERT_EQ(names.size(), 1U);
    EXPECT_EQ(names[0].lines, std::vector<std::string>{"line-1: Ann"});
    EXPECT_EQ(names[0].number, 0U);
    EXPECT_FALSE(names[0].leader);
    EXPECT_GT(names[0].box.left, 104);
    EXPECT_LT(names[0].box.left, 104 + type.size);
}

TEST(Named, TurnsToTheOtherSideAtTheEdge) {
    const std::vector marks = {mark(395, 100, "finn-chair: Finn")};
    const auto names = named(frame, marks, {}, type);
    EXPECT_LT(names[0].box.right(), 395);
    EXPECT_EQ(names[0].align, v1::Label::end);
}

// A mast beside its tripod: drawn on one another, they have one text, a line for each.
TEST(Named, IsSharedByMarksThatLieOnOneAnother) {
    const std::vector marks = {mark(100, 100, "tripod"), mark(103, 100, "mast"),
                               mark(200, 100, "chair")};
    const auto names = named(frame, marks, {}, type);
    ASSERT_EQ(names.size(), 2U);
    EXPECT_EQ(names[0].of, (std::vector<std::size_t>{0, 1}));
    EXPECT_EQ(names[0].lines, (std::vector<std::string>{"tripod", "mast"}));
}

TEST(Named, IsANumberWhereThereIsNoRoomForIt) {
    std::vector<Mark> marks;
    for (int i = 0; i < 25; ++i)
        marks.push_back(mark(150.0 + 22 * (i % 5), 100.0 + 22 * (i / 5),
                             "somebody with a name as long as names are " + std::to_string(i)));
    const auto names = named(frame, marks, {}, type, 7);
    const auto entries = key(names, marks, {0, 400}, 400, type);
    ASSERT_GT(last_number(names), 7U);
    std::size_t last = 7;
    for (const auto& n : names) {
        if (n.number == 0) continue;
        EXPECT_EQ(n.number, ++last);
        EXPECT_EQ(n.lines, std::vector<std::string>{std::to_string(n.number)});
        // The key has the number and the name.
        EXPECT_EQ(std::ranges::count(entries, n.number, &Naming::number), 2);
    }
}

struct Case {
    std::vector<Mark> marks;
    std::vector<Rect> taken;
    Rect frame;
    Type type;
};

Case random_case(std::mt19937_64& rng) {
    Case c;
    c.type.size = between(rng, 8, 20);
    c.frame = {between(rng, 0, 50), between(rng, 0, 50), between(rng, 20, 60) * c.type.size,
               between(rng, 12, 40) * c.type.size};
    if (chance(rng, 70)) c.taken.push_back({c.frame.left, c.frame.bottom() - 30, 90, 30});
    const double across = one_of(rng, {0.001, 0.02, 0.2, 1.0});  // of the frame
    const Spot around = {between(rng, 0, 1), between(rng, 0, 1)};
    for (int i = whole(rng, 0, chance(rng, 20) ? 60 : 14); i > 0; --i) {
        const auto share = [&](double middle) {
            return std::clamp(middle + across * between(rng, -0.5, 0.5), 0.0, 1.0);
        };
        Mark m;
        m.at = {c.frame.left + share(around.x) * c.frame.width,
                c.frame.top + share(around.y) * c.frame.height};
        m.radius = between(rng, 0, 0.5) * c.type.size;
        m.name = one_of(rng, {Mark::Name::beside, Mark::Name::beside, Mark::Name::above,
                              Mark::Name::upon, Mark::Name::in_key, Mark::Name::spare});
        for (int lines = whole(rng, 1, 3); lines > 0; --lines)
            m.lines.push_back(std::string(static_cast<std::size_t>(whole(rng, 1, 60)), 'x'));
        c.marks.push_back(m);
    }
    return c;
}

TEST(Named, LeavesEveryTextLegible) {
    int beside = 0, away = 0, numbers = 0;
    for_all(250, [&](std::mt19937_64& rng) {
        const auto c = random_case(rng);
        const auto last = static_cast<std::size_t>(one_of(rng, {0, 7, 95}));
        const auto names = named(c.frame, c.marks, c.taken, c.type, last);
        std::vector<Rect> boxes = c.taken;
        for (const auto& n : names) boxes.push_back(n.box);
        for (std::size_t i = 0; i < boxes.size(); ++i)
            for (std::size_t j = i + 1; j < boxes.size(); ++j)
                EXPECT_FALSE(shrunk(boxes[i]).overlaps(boxes[j])) << i << " on " << j;
        for (const auto& n : names) {
            for (std::size_t m = 0; m < c.marks.size(); ++m) {
                const auto& mark = c.marks[m];
                const bool may = mark.name == Mark::Name::upon && std::ranges::count(n.of, m) > 0;
                const Rect room = Rect{mark.at.x, mark.at.y, 0, 0}.grown(mark.radius);
                EXPECT_TRUE(may || !shrunk(n.box).overlaps(room)) << "lies on a mark";
            }
            EXPECT_TRUE(c.frame.grown(0.01).contains(n.box));
            const auto size = c.type.box({}, n.lines);
            EXPECT_GE(n.box.width + 0.01, size.width) << "a text is wider than its box";
            EXPECT_GE(n.box.height + 0.01, size.height);
            for (const auto& box : boxes)
                EXPECT_FALSE(n.leader && box.grown(-0.1).meets(*n.leader) &&
                             !box.contains({n.leader->from.x, n.leader->from.y, 0, 0}))
                    << "a line runs through a text";
            (n.number != 0 ? numbers : n.leader ? away : beside) += 1;
        }
    });
    EXPECT_GT(beside, 200);  // all three happen
    EXPECT_GT(away, 100);
    EXPECT_GT(numbers, 200);
}

// Every mark is named once, here or in the key; but those to be named where there is room.
TEST(Named, ForgetsNobody) {
    for_all(150, [](std::mt19937_64& rng) {
        const auto c = random_case(rng);
        const auto names = named(c.frame, c.marks, c.taken, c.type);
        std::multiset<std::size_t> of;
        for (const auto& n : names) of.insert(n.of.begin(), n.of.end());
        for (std::size_t i = 0; i < c.marks.size(); ++i) {
            const auto times = of.count(i);
            if (c.marks[i].name == Mark::Name::spare)
                EXPECT_LE(times, 1U);
            else
                EXPECT_EQ(times, 1U) << "mark " << i;
        }
    });
}

// Who reads a text beside a mark, with no line from it, takes it for the name of the nearest.
TEST(Named, StandsNearestToItsOwnMark) {
    const auto distance = [](const Spot& s, const Rect& b) {
        return std::hypot(s.x - std::clamp(s.x, b.left, b.right()),
                          s.y - std::clamp(s.y, b.top, b.bottom()));
    };
    for_all(150, [&](std::mt19937_64& rng) {
        const auto c = random_case(rng);
        const auto names = named(c.frame, c.marks, c.taken, c.type);
        for (const auto& n : names) {
            if (n.leader) continue;
            for (const auto& other : names)
                EXPECT_LE(distance(c.marks[n.of[0]].at, n.box),
                          distance(c.marks[other.of[0]].at, n.box));
        }
    });
}

TEST(Key, IsInColumnsThatDoNotTouch) {
    for_all(60, [](std::mt19937_64& rng) {
        const auto c = random_case(rng);
        auto marks = c.marks;
        for (auto& m : marks) m.name = Mark::Name::in_key;
        const auto names = named(c.frame, marks, c.taken, c.type);
        const double width = between(rng, 20, 120) * c.type.size;
        const auto entries = key(names, marks, {5, 700}, width, c.type);
        for (std::size_t i = 0; i < entries.size(); ++i) {
            EXPECT_GE(entries[i].box.left, 5);
            EXPECT_LE(entries[i].box.right(), 5 + width + 0.01);
            EXPECT_GE(entries[i].box.top, 700);
            EXPECT_LE(entries[i].box.bottom(), bottom_of(entries, 700));
            for (std::size_t j = i + 1; j < entries.size(); ++j)
                EXPECT_FALSE(shrunk(entries[i].box).overlaps(entries[j].box));
        }
    });
}

TEST(Rect, KnowsWhatRunsThroughIt) {
    const Rect box{10, 10, 20, 10};
    EXPECT_TRUE(box.meets({{0, 0}, {40, 30}}));
    EXPECT_TRUE(box.meets({{15, 12}, {16, 13}}));
    EXPECT_TRUE(box.meets({{0, 15}, {40, 15}}));
    EXPECT_FALSE(box.meets({{0, 0}, {5, 30}}));
    EXPECT_FALSE(box.meets({{0, 15}, {10, 15}})) << "ends at its edge";
    EXPECT_FALSE(box.meets({{10, 0}, {10, 30}})) << "runs along its edge";
}

}  // namespace
}  // namespace fieldpeg::day
