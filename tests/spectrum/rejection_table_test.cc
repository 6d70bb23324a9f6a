#include "server/spectrum/rejection_table.h"

#include "tests/support/gear.h"
#include "tests/support/scenes.h"

#include <gtest/gtest.h>

#include <malloc.h>
#include <cstddef>
#include <initializer_list>

namespace fieldpeg::spectrum {
namespace {

Scene on(std::initializer_list<Hertz> frequencies) {
    Scene scene;
    scene.emissions.push_back(testing::emission("fm-video"));
    scene.profiles.push_back(testing::receiver("fm-video-5g8"));
    for (const auto frequency : frequencies)
        scene.transmitters.push_back({0, frequency, 14_dBm,
                                      testing::upright("circular-omni", Polarisation::rhcp), 0.5_dB,
                                      Point{0, 50, 10}});
    return scene;
}

TEST(FrequencyGrid, IsTheLargestStepAllFrequenciesLieOn) {
    EXPECT_EQ(frequency_grid(on({5'800_MHz, 5'740_MHz})), 20_MHz);
    EXPECT_EQ(frequency_grid(on({5'658_MHz, 5'695_MHz})), 1_MHz);
    EXPECT_EQ(frequency_grid(on({5'800'001_kHz, 5'740_MHz})), 1_kHz);
    EXPECT_EQ(frequency_grid(on({5'800_MHz})), 5'800_MHz);
    EXPECT_GT(frequency_grid(on({})), 0_Hz);
}

TEST(OffsetTable, AsksOncePerOffsetWhetherItIsDenseOrNot) {
    for (const Hertz grid : {1_MHz, 1_kHz}) {  // 60 steps; 60 000, more than a plain array holds
        int asked = 0;
        OffsetTable table(grid, 60_MHz, [&](Hertz offset) {
            ++asked;
            return mhz(offset) + 1;
        });
        const std::int64_t last = 60'000'000 / grid.count();
        for (const std::int64_t steps : {last, std::int64_t{7}, last, std::int64_t{7}}) {
            EXPECT_NEAR(table.at(steps), mhz(Hertz(steps * grid.count())) + 1, 1e-9);
        }
        EXPECT_EQ(asked, 2);
    }
}

TEST(OffsetTable, GivesAllValuesOnlyWhereItIsDense) {
    const auto offset_mhz = [](Hertz offset) { return mhz(offset); };
    OffsetTable dense(1_MHz, 60_MHz, offset_mhz);
    OffsetTable sparse(1_kHz, 60_MHz, offset_mhz);
    ASSERT_NE(dense.all(), nullptr);
    for (int steps = 0; steps <= 60; ++steps) EXPECT_EQ(dense.all()[steps], steps);
    EXPECT_EQ(sparse.all(), nullptr);
}

// 400 MHz of emission and 50 MHz of receiver: beyond, nothing but blocking counts.
TEST(RejectionTables, EndWhereBothCurvesEnd) {
    const auto scene = on({5'800_MHz, 5'801_MHz});
    RejectionTables tables(scene);
    EXPECT_GT(tables.emission(0, 0, 450), 0);
    EXPECT_EQ(tables.emission(0, 0, 451), 0);
    EXPECT_LE(tables.emission(0, 0, 0), 1);
}

TEST(RejectionMemory, GivesTheSameTablesAgainForTheSameGearAndGridOnly) {
    const auto scene = on({5'800_MHz, 5'801_MHz});
    RejectionMemory memory;
    const auto first = memory.tables(scene, 1_MHz);
    EXPECT_EQ(memory.tables(on({5'658_MHz, 5'695_MHz}), 1_MHz), first);
    EXPECT_NE(memory.tables(scene, 500_kHz), first);
    auto quieter = scene;
    quieter.profiles[0].noise_figure = 1_dB;
    EXPECT_NE(memory.tables(quieter, 1_MHz)->noise(0), first->noise(0));
    auto wider = scene;
    wider.emissions[0].sigma_mhz *= 2;
    EXPECT_NE(memory.tables(wider, 1_MHz)->two_signal(0, 0, 0).at(5),
              first->two_signal(0, 0, 0).at(5));
    auto other = scene;
    other.emissions[0] = testing::emission("ofdm-20");
    EXPECT_NE(memory.tables(other, 1_MHz)->emission(0, 0, 15), first->emission(0, 0, 15));
    EXPECT_EQ(memory.tables(scene, 1_MHz), first);
}

// Tables in such small steps grow with every channel that is tried.
TEST(RejectionMemory, KeepsNoTablesInFineSteps) {
    const auto scene = on({5'800'001_kHz, 5'740_MHz});
    RejectionMemory memory;
    EXPECT_NE(memory.tables(scene, 1_kHz), memory.tables(scene, 1_kHz));
    EXPECT_EQ(memory.tables(scene, 1_MHz), memory.tables(scene, 1_MHz));
}

// Three emissions make a product, and of so many there would be 60 to the power of 3 tables a
// receiver, some 350 MB; of the two on the air there are eight at most. What is held is asked of
// the allocator, which says 0 where a sanitizer is in its place.
TEST(RejectionTables, HoldOnlyWhatWasAsked) {
    auto scene = on({5'800_MHz, 5'740_MHz});
    scene.emissions.resize(60, scene.emissions.front());
    scene.profiles.resize(4, scene.profiles.front());
    const auto before = mallinfo2().uordblks;
    RejectionTables tables(scene, 1_MHz);
    EXPECT_EQ(tables.three_signal(3, 0, 59, 1).at(0), tables.three_signal(0, 0, 0, 0).at(0));
    EXPECT_EQ(tables.two_signal(3, 59, 0).at(7), tables.two_signal(0, 0, 0).at(7));
    constexpr std::size_t held_max = 20'000'000;
    EXPECT_LT(mallinfo2().uordblks - before, held_max);
}

}  // namespace
}  // namespace fieldpeg::spectrum
