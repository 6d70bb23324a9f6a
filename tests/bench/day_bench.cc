// How long a phone waits for an answer about its channel: a field of 40 pilots in three flight
// groups, on 5.8 GHz, one group in the air. Beside each time stands how much was offered.

#include "server/day/apply.h"
#include "server/day/decide.h"
#include "server/day/deciding.h"
#include "server/day/free_channels.h"
#include "server/day/relay_check.h"
#include "tests/support/days.h"

#include <benchmark/benchmark.h>
#include <fmt/format.h>

#include <string>

namespace fieldpeg::day {
namespace {

constexpr int pilots = 40;

std::string many() {
    std::string text = "[day]\nname = \"Many\"\ndate = 2026-06-12\n[field]\nname = \"Meadow\"\n";
    for (int i = 0; i < pilots; ++i)
        text += fmt::format("[[field.place]]\nname = \"p{}\"\nat_m = [{}, {}]\nheight_m = 1.7\n", i,
                            4 * (i % 14), -6 * (i / 14));
    text +=
        "[[field.area]]\nname = \"c\"\ncentre_m = [25, 90]\nradius_m = 50\nheight_m = [3, 40]\n";
    for (int i = 0; i < pilots; ++i) {
        const int group = i % 3 + 1;
        const bool flies = group == 1 && i < 12;
        text += fmt::format(
            "[[pilot]]\nname = \"Pilot {0}\"\nplace = \"p{0}\"\narea = \"c\"\n[pilot.video]\n"
            "emission = \"fm-video\"\nantenna = \"circular-omni\"\npolarisation = \"rhcp\"\n"
            "power_mw = [25, 200, 600]\nchannels = [\"R1-R8\", \"F1-F8\", \"A1-A8\", \"E1-E8\"]\n"
            "[[pilot.receiver]]\nreceiver = \"fm-video-5g8\"\nantenna = \"circular-omni\"\n"
            "polarisation = \"rhcp\"\n[pilot.claim]\nchannel = \"R{1}\"\npower_mw = 25\n"
            "group = {2}\n{3}",
            i, i / 3 * 2 % 8 + 1, group, flies ? "on_air = true\n" : "");
    }
    text +=
        "[[relay]]\nname = \"mast\"\nowner = \"Pilot 39\"\nplace = \"p2\"\nemission = "
        "\"fm-video\"\n"
        "antenna = \"circular-omni\"\npolarisation = \"rhcp\"\npower_mw = [5, 25, 100, 200, 600]\n"
        "[relay.claim]\nchannel = \"A5\"\npower_mw = 5\n";
    return text;
}

v1::DayState state_of_many() {
    v1::DayState state;
    for (const auto& event : set_up(state, testing::sheet_of(many()), 1000).events)
        apply(state, event);
    return state;
}

/// As a server asks, which remembers from one question to the next, or as one that was just
/// started.
void free_of_40(benchmark::State& bench) {
    const auto state = state_of_many();
    v1::FreeQuery query;
    query.set_transmitter("Pilot 4");
    Memory memory;
    if (bench.range(0) == 1) (void)free_channels(state, query, memory);
    int offered = 0;
    for (auto _ : bench) {
        if (bench.range(0) == 0) memory = Memory();
        offered = free_channels(state, query, memory).value().free_size();
    }
    bench.counters["offered"] = offered;
}
BENCHMARK(free_of_40)->Arg(0)->Arg(1)->Unit(benchmark::kMillisecond);

/// What a claim takes that names no channel, to compare.
void best_of_40(benchmark::State& bench) {
    const auto state = state_of_many();
    v1::ClaimChannel asked;
    asked.set_transmitter("Pilot 4");
    asked.set_only_try(true);
    Memory memory;
    for (auto _ : bench)
        benchmark::DoNotOptimize(decide(state, {}, asked, 2000, memory).reply.has_claim());
}
BENCHMARK(best_of_40)->Unit(benchmark::kMillisecond);

void all_steps_of_a_relay(benchmark::State& bench) {
    const auto state = state_of_many();
    v1::RelayCheckQuery query;
    query.set_relay("mast");
    query.set_basis(v1::Basis::on_air);
    query.set_all_steps(bench.range(0) == 1);
    int steps = 0;
    for (auto _ : bench) steps = relay_check(state.sheet(), query).value().steps_size();
    bench.counters["steps"] = steps;
}
BENCHMARK(all_steps_of_a_relay)->Arg(0)->Arg(1)->Unit(benchmark::kMillisecond);

/// Sightings that stand, each on a frequency of its own, `apart` from a whole megahertz.
v1::DayState with_sightings(v1::DayState state, int sightings, double apart_mhz) {
    constexpr int lowest_mhz = 5645, span_mhz = 300;
    for (int i = 0; i < sightings; ++i) {
        NoteSighting seen;
        seen.asked.mutable_channel()->set_mhz(lowest_mhz + 7 * i % span_mhz + i * apart_mhz);
        seen.asked.set_area("c");
        seen.asked.set_emission("fm-video");
        const Given given{state, {}, 2000};
        state = after(given, decide_see(given, seen).decision.events);
    }
    return state;
}

/// What switching on takes beside so many of them, in a server that has been asked before.
void on_beside_sightings(benchmark::State& bench) {
    constexpr double khz = 0.001;
    const auto state = with_sightings(state_of_many(), static_cast<int>(bench.range(0)),
                                      bench.range(1) == 1 ? khz : 0);
    v1::SwitchOn asked;
    asked.set_transmitter("Pilot 15");
    asked.set_yes_anyway(true);
    Memory memory;
    (void)decide(state, {}, asked, 2000, memory);
    for (auto _ : bench)
        bench.counters["answer"] = decide(state, {}, asked, 2000, memory).reply.switched().answer();
}
BENCHMARK(on_beside_sightings)
    ->ArgsProduct({{0, 20, 60, 80, 582}, {0, 1}})
    ->Unit(benchmark::kMillisecond);

}  // namespace
}  // namespace fieldpeg::day
