#include "tests/simulation/simulation.h"

#include <gtest/gtest.h>
#include <spdlog/spdlog.h>

#include <cstdint>
#include <cstdlib>
#include <string>

/// The server as it is, on a network, a clock and a disk that are not to be relied on. What is held
/// against it are its own promises (docs/protocol.md), by a second reading of its log.
namespace fieldpeg::simulation {
namespace {

constexpr std::uint64_t seeds = 16;

std::uint64_t number(const char* name, std::uint64_t otherwise) {
    const char* said = std::getenv(name);
    return said ? std::stoull(said) : otherwise;
}

class Simulation : public ::testing::Test {
protected:
    Simulation() { spdlog::set_level(spdlog::level::off); }
    ~Simulation() override { spdlog::set_level(spdlog::level::info); }
};

TEST_F(Simulation, KeepsEveryPromiseWhateverFails) {
    const auto only = number("FIELDPEG_SEED", 0);
    const auto first = only != 0 ? only : 1;
    const auto last = only != 0 ? only : number("FIELDPEG_SEEDS", seeds);
    for (auto seed = first; seed <= last; ++seed) {
        const auto outcome = play(seed);
        ASSERT_EQ(outcome.broken, "") << "FIELDPEG_SEED=" << seed;
    }
}

TEST_F(Simulation, OfOneSeedIsTheSameEachTime) {
    for (const auto seed : {std::uint64_t{1}, std::uint64_t{2}})
        EXPECT_EQ(play(seed).trace, play(seed).trace);
    EXPECT_NE(play(1).trace, play(2).trace);
}

/// In how many of some days a fault is noticed by a promise that says so.
int noticed(Fault fault, std::uint64_t days, const std::string& by) {
    int all = 0;
    for (std::uint64_t seed = 1; seed <= days; ++seed) {
        const auto broken = play(seed, fault).broken;
        if (broken.find(by) != std::string::npos) ++all;
    }
    return all;
}

// The tests of the test: what is wrong on purpose is noticed.
TEST_F(Simulation, NoticesADiskThatLies) {
    EXPECT_GT(noticed(Fault::lying_disk, 4, "than before the restart"), 0);
}

TEST_F(Simulation, NoticesAClientThatAsksAgainAsForSomethingNew) {
    EXPECT_GT(noticed(Fault::new_key_each_time, 8, "not alike"), 0);
}

TEST_F(Simulation, NoticesWhatComesInAnotherOrder) {
    EXPECT_GT(noticed(Fault::mixed_up, 4, "a board that nobody has"), 0);
}

TEST_F(Simulation, NoticesAChangeThatIsMissed) {
    EXPECT_GT(noticed(Fault::missed_change, 6, " sees\n"), 0);
}

}  // namespace
}  // namespace fieldpeg::simulation
