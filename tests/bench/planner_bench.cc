// How long the planner takes to a proof, or how good it is after a while. Beside each time stand
// the worst margin, the gap to the bound, and the nodes: these do not depend on the machine where
// the search ends by itself.

#include "server/planner/few_moves.h"
#include "server/planner/plan.h"
#include "server/planner/rota.h"
#include "tests/planner/questions.h"

#include <benchmark/benchmark.h>

#include <cstddef>
#include <ctime>

namespace fieldpeg::planner {
namespace {

using namespace spectrum::literals;
using testing::Crowd;
using testing::crowd;

/// An effort that ends after so many seconds of one core, whatever else the machine does.
class Within {
public:
    explicit Within(double seconds) {
        const double began = now_s();
        effort_.stop = [=] { return now_s() - began >= seconds; };
        effort_.is_past = [=](double share) { return now_s() - began >= share * seconds; };
    }
    const Effort& effort() const { return effort_; }

private:
    static double now_s() { return static_cast<double>(std::clock()) / CLOCKS_PER_SEC; }

    Effort effort_;
};

void plan_within(benchmark::State& state, const Question& question, double seconds) {
    Outcome found{};
    for (auto _ : state) {
        const Tables tables(question);
        const Within within(seconds);
        found = best_choice(tables.problem(), tables.reckon(), within.effort());
    }
    state.counters["worst_db"] = found.worst_db;
    state.counters["gap_db"] = found.bound_db - found.worst_db;
    state.counters["proved"] = found.proved ? 1 : 0;
    state.counters["nodes"] = static_cast<double>(found.nodes);
}

constexpr double patience_s = 30;

void eight_alike(benchmark::State& state) {
    plan_within(state, crowd({8, 0}), patience_s);
}
BENCHMARK(eight_alike)->Unit(benchmark::kMillisecond);

void eight_side_by_side(benchmark::State& state) {
    plan_within(state, crowd({8, 3}), patience_s);
}
BENCHMARK(eight_side_by_side)->Unit(benchmark::kMillisecond);

void eight_powers_alike(benchmark::State& state) {
    plan_within(state, crowd({8, 0, {14, 17, 20}}), patience_s);
}
BENCHMARK(eight_powers_alike)->Unit(benchmark::kMillisecond);

void eight_powers_side_by_side(benchmark::State& state) {
    plan_within(state, crowd({8, 3, {14, 17, 20}}), patience_s);
}
BENCHMARK(eight_powers_side_by_side)->Unit(benchmark::kMillisecond);

void twelve_with_limited_gear(benchmark::State& state) {
    plan_within(state, crowd({12, 3, {14}, 6}, static_cast<std::uint64_t>(state.range(0))),
                patience_s);
}
BENCHMARK(twelve_with_limited_gear)->DenseRange(1, 3)->Unit(benchmark::kMillisecond);

void growth_with_pilots(benchmark::State& state) {
    plan_within(state, crowd({static_cast<std::size_t>(state.range(0)), 0}), patience_s);
}
BENCHMARK(growth_with_pilots)->DenseRange(2, 9)->Unit(benchmark::kMillisecond)->Iterations(1);

/// Six pilots, the first so many of the 39 channels: low ones, so that room is short at first.
void growth_with_channels(benchmark::State& state) {
    auto question = crowd({6, 0});
    for (auto& allowed : question.allowed)
        allowed.channels.resize(static_cast<std::size_t>(state.range(0)));
    plan_within(state, question, patience_s);
}
BENCHMARK(growth_with_channels)->DenseRange(9, 39, 6)->Unit(benchmark::kMillisecond)->Iterations(1);

void big_day_plan(benchmark::State& state) {
    plan_within(state, testing::big_day(static_cast<std::size_t>(state.range(0))), 2);
}
BENCHMARK(big_day_plan)->Arg(200)->Unit(benchmark::kMillisecond)->Iterations(1);

/// The fewest groups in which everybody is steady, then the best margins in so many.
void forty_in_groups(benchmark::State& state) {
    const auto question = crowd({40, 1, {14}, static_cast<std::size_t>(state.range(0))});
    Rota found;
    for (auto _ : state) {
        const Within within(5);
        found = fewest_groups(question, 0_dB, 40, within.effort());
    }
    state.counters["groups"] = static_cast<double>(found.groups);
    state.counters["groups_at_least"] = static_cast<double>(found.groups_at_least);
    state.counters["worst_db"] = found.worst.count();
    state.counters["gap_db"] = (found.bound - found.worst).count();
}
BENCHMARK(forty_in_groups)->Arg(0)->Arg(6)->Unit(benchmark::kMillisecond)->Iterations(1);

/// Sixteen with some channels of the R and F rows each, 80 such days: of how many the fewest groups
/// are proved in three seconds.
void sixteen_in_groups(benchmark::State& state) {
    constexpr std::uint64_t days = 80;
    std::size_t proved = 0, one_more = 0;
    for (auto _ : state) {
        for (std::uint64_t day = 1; day <= days; ++day) {
            const Within within(3);
            const auto found = fewest_groups(testing::rows_day(16, day), 0_dB, 16, within.effort());
            proved += found.proved ? 1U : 0U;
            one_more += !found.proved && found.groups == found.groups_at_least + 1 ? 1U : 0U;
        }
    }
    state.counters["proved"] = static_cast<double>(proved);
    state.counters["one_more"] = static_cast<double>(one_more);
}
BENCHMARK(sixteen_in_groups)->Unit(benchmark::kSecond)->Iterations(1);

/// A newcomer comes to a field that is planned; whoever must moves.
void newcomer_with_fewest_moves(benchmark::State& state) {
    const auto pilots = static_cast<std::size_t>(state.range(0));
    const Tables tables(crowd({pilots, 3, {14}, 8}));
    const Within within(patience_s);
    const auto planned = *best_choice(tables.problem(), tables.reckon(), within.effort()).best;
    Holds holds(planned.begin(), planned.end());
    holds.back().reset();
    const spectrum::Decibel target(tables.reckon(planned) - 0.5);
    Moves found{};
    for (auto _ : state) found = few_moves(tables, holds, target, 2, within.effort());
    state.counters["moves"] = static_cast<double>(found.least);
}
BENCHMARK(newcomer_with_fewest_moves)->Arg(6)->Arg(8)->Arg(10)->Unit(benchmark::kMillisecond);

}  // namespace
}  // namespace fieldpeg::planner
