#include "server/wire/places.h"

#include <gtest/gtest.h>

#include <memory>
#include <string>
#include <vector>

namespace fieldpeg::wire {
namespace {

using boost::asio::ip::make_address;

struct Guests {
    explicit Guests(Places::Limits limits) : places(limits) {}

    /// Whether there was a place.
    bool come(const std::string& who, const std::string& from) {
        auto place = places.take(make_address(from), [this, who] { left.push_back(who); });
        if (!place) return false;
        seats.emplace_back(who, std::move(place));
        return true;
    }
    void is(const std::string& who, std::uint32_t person) {
        for (auto& [name, place] : seats)
            if (name == who) place->belongs_to(person);
    }
    void goes(const std::string& who) {
        std::erase_if(seats, [&](const auto& one) { return one.first == who; });
    }

    Places places;
    std::vector<std::pair<std::string, std::unique_ptr<Places::Place>>> seats;
    std::vector<std::string> left;  ///< was told to leave, in this order
};

using Names = std::vector<std::string>;

TEST(Places, AreForEverybodyWhileThereAreSome) {
    Guests guests({.all = 4, .of_address = 2, .of_person = 2});
    EXPECT_TRUE(guests.come("a1", "10.0.0.1"));
    EXPECT_TRUE(guests.come("a2", "10.0.0.1"));
    EXPECT_TRUE(guests.come("b1", "10.0.0.2"));
    EXPECT_TRUE(guests.left.empty());
    EXPECT_EQ(guests.places.size(), 3U);
}

TEST(Places, OfAnAddressThatHasItsShareTheFirstStrangerLeaves) {
    Guests guests({.all = 9, .of_address = 2, .of_person = 2});
    for (const auto* who : {"a1", "a2", "a3", "a4"}) EXPECT_TRUE(guests.come(who, "10.0.0.1"));
    EXPECT_EQ(guests.left, (Names{"a1", "a2"}));
    EXPECT_EQ(guests.places.size(), 2U);
}

TEST(Places, OfAPersonAreNotOfTheirAddress) {
    Guests guests({.all = 9, .of_address = 2, .of_person = 2});
    for (const auto* who : {"a1", "a2"}) {
        guests.come(who, "10.0.0.1");
        guests.is(who, 7);
    }
    for (const auto* who : {"s1", "s2", "s3"}) guests.come(who, "10.0.0.1");
    EXPECT_EQ(guests.left, Names{"s1"}) << "who is known stays";
}

TEST(Places, OfAPersonWithTooManyTheFirstEnds) {
    Guests guests({.all = 9, .of_address = 9, .of_person = 2});
    for (const auto* who : {"a1", "a2", "a3"}) {
        guests.come(who, "10.0.0.1");
        guests.is(who, 7);
    }
    guests.come("b1", "10.0.0.1");
    guests.is("b1", 8);
    EXPECT_EQ(guests.left, Names{"a1"});
}

// A thousand connections of one host keep nobody out.
TEST(Places, WhereThereAreNoMoreTheAddressThatHasMostGivesOne) {
    Guests guests({.all = 5, .of_address = 9, .of_person = 9});
    guests.come("b1", "10.0.0.2");
    for (const auto* who : {"a1", "a2", "a3", "a4"}) guests.come(who, "10.0.0.1");
    EXPECT_TRUE(guests.come("c1", "10.0.0.3"));
    EXPECT_TRUE(guests.come("d1", "10.0.0.4"));
    EXPECT_EQ(guests.left, (Names{"a1", "a2"}));
}

TEST(Places, NobodyWhoIsKnownLeavesForAStranger) {
    Guests guests({.all = 2, .of_address = 2, .of_person = 2});
    for (const auto* who : {"a1", "a2"}) {
        guests.come(who, "10.0.0.1");
        guests.is(who, 7);
    }
    EXPECT_FALSE(guests.come("s1", "10.0.0.2"));
    EXPECT_TRUE(guests.left.empty());
    guests.goes("a1");
    EXPECT_TRUE(guests.come("s1", "10.0.0.2"));
}

TEST(Places, AreFreeAgainWhenSomebodyGoesAndNobodyIsToldTwice) {
    Guests guests({.all = 2, .of_address = 1, .of_person = 2});
    guests.come("a1", "10.0.0.1");
    guests.come("a2", "10.0.0.1");
    guests.come("a3", "10.0.0.1");
    EXPECT_EQ(guests.left, (Names{"a1", "a2"})) << "though neither has gone yet";
    guests.goes("a1");
    guests.goes("a2");
    EXPECT_EQ(guests.places.size(), 1U);
    EXPECT_TRUE(guests.come("b1", "10.0.0.2"));
    EXPECT_EQ(guests.left.size(), 2U);
}

}  // namespace
}  // namespace fieldpeg::wire
