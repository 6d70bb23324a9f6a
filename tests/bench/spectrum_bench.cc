// How long the radio model takes. Places, areas, powers and channels are drawn at random: nobody
// shares a place, which is harder than any real day.

#include "server/spectrum/control.h"
#include "server/spectrum/guesses.h"
#include "server/spectrum/margin.h"
#include "server/spectrum/rejection.h"
#include "server/spectrum/standing.h"
#include "server/spectrum/verdict.h"
#include "tests/support/gear.h"

#include <benchmark/benchmark.h>

#include <cmath>
#include <random>
#include <vector>

namespace fieldpeg::spectrum {
namespace {

constexpr int channels_5g8[] = {5645, 5658, 5665, 5685, 5695, 5705, 5725, 5732, 5733, 5740,
                                5745, 5752, 5760, 5765, 5769, 5771, 5780, 5785, 5790, 5800,
                                5805, 5806, 5809, 5820, 5825, 5828, 5840, 5843, 5845, 5847,
                                5860, 5865, 5866, 5880, 5885, 5905, 5917, 5925, 5945};

/// `count` pilots on the 39 distinct channels of 5.8 GHz, each with goggles.
Scene crowd(std::size_t count) {
    std::mt19937_64 random(count);
    const auto between = [&](double low, double high) {
        return std::uniform_real_distribution(low, high)(random);
    };
    Scene scene{{testing::emission("fm-video")}, {testing::receiver("fm-video-5g8")}, {}, {}};
    const Antenna antenna{testing::antenna("circular-omni"), Polarisation::rhcp, {}, {}};
    for (std::size_t i = 0; i < count; ++i) {
        const Envelope area{between(-200, 200), between(50, 400), between(20, 120), between(3, 20),
                            between(30, 120)};
        const int channel = channels_5g8[random() % std::size(channels_5g8)];
        scene.transmitters.push_back(
            {0, Hertz(channel * 1'000'000LL), Dbm(14), antenna, 0.5_dB, area});
        scene.receivers.push_back(
            {0, i, antenna, 0.5_dB, Point{between(-30, 30), between(-5, 0), 1.7}, i});
    }
    return scene;
}

/// Gear and places as they were: what a claim or a switch-on costs.
void assess_day(benchmark::State& state) {
    const auto scene = crowd(static_cast<std::size_t>(state.range(0)));
    const LinkTable links(scene);
    RejectionTables tables(scene);
    for (auto _ : state) benchmark::DoNotOptimize(assess(scene, links, tables));
    state.SetComplexityN(state.range(0));
}
BENCHMARK(assess_day)->Arg(6)->Arg(40)->Arg(200)->Unit(benchmark::kMillisecond);
BENCHMARK(assess_day)
    ->Name("assess_growth")
    ->RangeMultiplier(10)
    ->Range(10, 1000)
    ->Unit(benchmark::kMillisecond)
    ->Complexity();

/// Everything from nothing: what a changed place of everybody costs.
void assess_from_nothing(benchmark::State& state) {
    const auto scene = crowd(static_cast<std::size_t>(state.range(0)));
    for (auto _ : state) {
        const LinkTable links(scene);
        RejectionTables tables(scene);
        benchmark::DoNotOptimize(assess(scene, links, tables));
    }
}
BENCHMARK(assess_from_nothing)->Arg(6)->Arg(40)->Arg(200)->Unit(benchmark::kMillisecond);

void link_table(benchmark::State& state) {
    const auto scene = crowd(static_cast<std::size_t>(state.range(0)));
    for (auto _ : state) benchmark::DoNotOptimize(LinkTable(scene));
}
BENCHMARK(link_table)->Arg(6)->Arg(40)->Arg(200)->Unit(benchmark::kMillisecond);

/// One has moved: what belongs to it anew.
void one_moved(benchmark::State& state) {
    const auto scene = crowd(static_cast<std::size_t>(state.range(0)));
    LinkTable links(scene);
    RejectionTables tables(scene);
    for (auto _ : state) {
        links.update(scene, 0);
        benchmark::DoNotOptimize(assess(scene, links, tables));
    }
}
BENCHMARK(one_moved)->Arg(6)->Arg(40)->Arg(200)->Unit(benchmark::kMillisecond);

/// Verdicts and shares of everybody, assessed already.
void words_and_shares(benchmark::State& state) {
    const auto scene = crowd(static_cast<std::size_t>(state.range(0)));
    const LinkTable links(scene);
    RejectionTables tables(scene);
    const auto receptions = assess(scene, links, tables);
    const auto all = viewers(scene);
    for (auto _ : state)
        for (const auto& viewer : all) {
            benchmark::DoNotOptimize(verdict(standing(receptions, viewer)));
            benchmark::DoNotOptimize(share(receptions, viewer, Demand::watchable, Air::usual));
            benchmark::DoNotOptimize(share(receptions, viewer, Demand::watchable, Air::alone));
            benchmark::DoNotOptimize(share(receptions, viewer, Demand::sharp, Air::usual));
        }
}
BENCHMARK(words_and_shares)->Arg(6)->Arg(40)->Arg(200)->Unit(benchmark::kMillisecond);

/// A day from nothing to words, as `check` has it; with 1 what every word rests on, too.
void check_day(benchmark::State& state) {
    const auto scene = crowd(static_cast<std::size_t>(state.range(0)));
    const std::vector<Guesses> guesses(scene.receivers.size(), assumed_guesses);
    for (auto _ : state) {
        const LinkTable links(scene);
        RejectionTables tables(scene);
        const auto receptions = assess(scene, links, tables);
        const auto all = viewers(scene);
        for (const auto& viewer : all) {
            benchmark::DoNotOptimize(verdict(standing(receptions, viewer)));
            benchmark::DoNotOptimize(share(receptions, viewer, Demand::watchable, Air::usual));
        }
        if (state.range(1) == 0) continue;
        const auto unsure = doubts(scene, links, tables, receptions, guesses);
        for (const auto& viewer : all)
            benchmark::DoNotOptimize(
                outlook(standing(receptions, viewer), doubt(unsure, receptions, viewer)));
    }
}
BENCHMARK(check_day)->ArgsProduct({{6, 40, 200}, {0, 1}})->Unit(benchmark::kMillisecond);

/// Everybody steered from where they stand, with a network beside them.
void controls_of_a_day(benchmark::State& state) {
    auto scene = crowd(static_cast<std::size_t>(state.range(0)));
    const auto count = scene.transmitters.size();
    scene.emissions.push_back(testing::emission("hopping-2g4"));
    scene.emissions.push_back(testing::emission("ofdm-20"));
    scene.profiles.push_back(testing::receiver("control-2g4"));
    const Antenna dipole{testing::antenna("dipole"), Polarisation::vertical, {}, {}};
    const HopBand hops{2402_MHz, 2480_MHz};
    for (std::size_t i = 0; i < count; ++i) {
        scene.transmitters.push_back(
            {1, 2441_MHz, Dbm(20), dipole, 0.5_dB, scene.receivers[i].at, 0.5, hops});
        scene.controls.push_back({scene.transmitters.size() - 1,
                                  1,
                                  dipole,
                                  0.5_dB,
                                  std::get<Envelope>(scene.transmitters[i].at),
                                  hops,
                                  1_MHz,
                                  {i}});
    }
    scene.transmitters.push_back({2, 2437_MHz, Dbm(20), dipole, 0.5_dB, Point{30, -20, 2}, 0.3});
    for (auto _ : state) {
        RejectionTables tables(scene, control_grid(scene));
        benchmark::DoNotOptimize(assess_controls(scene, ControlLinks(scene), tables));
    }
}
BENCHMARK(controls_of_a_day)->Arg(6)->Arg(14)->Arg(40)->Unit(benchmark::kMillisecond);

void rejection_computed(benchmark::State& state) {
    const auto emission = testing::emission("fm-video");
    const auto receiver = testing::receiver("fm-video-5g8");
    for (auto _ : state)
        benchmark::DoNotOptimize(
            frequency_dependent_rejection(emission.density, receiver.selectivity, 37_MHz));
}
BENCHMARK(rejection_computed);

void rejection_looked_up(benchmark::State& state) {
    const auto scene = crowd(6);
    RejectionTables tables(scene);
    for (auto _ : state) benchmark::DoNotOptimize(tables.emission(0, 0, 37));
}
BENCHMARK(rejection_looked_up);

}  // namespace
}  // namespace fieldpeg::spectrum
