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

constexpr std::uint64_t seeds = 30;

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
    for (const auto seed : {std::uint64_t{1}, std::uint64_t{2}, std::uint64_t{3}})
        EXPECT_EQ(play(seed).trace, play(seed).trace);
    EXPECT_NE(play(1).trace, play(2).trace);
}

}  // namespace
}  // namespace fieldpeg::simulation
