#pragma once

#include "server/planner/problem.h"
#include "server/planner/search.h"

#include <cmath>
#include <cstddef>
#include <cstdint>
#include <utility>
#include <vector>

/// Published problems of frequency assignment, as tables for the planner's search.
namespace fieldpeg::testing {

/// Channels first..first + count - 1, in bands of a word each.
inline void set_channels(planner::Problem& problem, std::int64_t first, std::size_t count) {
    for (std::size_t i = 0; i < count; ++i) {
        if (i % planner::band_size_max == 0) problem.bands.emplace_back();
        problem.bands.back().push_back(first + static_cast<std::int64_t>(i));
    }
}

/// Adds a station that may be anywhere, with one ear that hears it.
inline void add_station(planner::Problem& problem, double signal, std::size_t twins) {
    auto& station = problem.stations.emplace_back();
    station.powers = {1};
    station.twins = twins;
    auto& ear = problem.ears.emplace_back();
    ear.station = problem.stations.size() - 1;
    for (const auto& band : problem.bands) {
        station.channels.push_back(band.size() == 64 ? ~std::uint64_t{0}
                                                     : (std::uint64_t{1} << band.size()) - 1);
        ear.signal.push_back(signal);
        ear.close.push_back(INFINITY);
    }
    problem.goals.push_back({problem.ears.size() - 1});
}

enum class Products { two_signal, all };

/// `count` stations on `channels` channels, any third-order product on a channel in use being
/// fatal. Solved if everybody reaches 0 dB.
inline planner::Problem free_of_products(std::size_t count, std::size_t channels,
                                         Products products) {
    constexpr double power = 1e-4, noise = 1e-14;  // a product is 1e-12, the iip3 far off
    planner::Problem problem;
    set_channels(problem, 1000, channels);
    problem.pair_gain = {1};
    problem.triple_gain = products == Products::all ? 4 : 0;
    const auto on_channel = [](std::int64_t distance) { return distance == 0 ? 1.0 : 0.0; };
    auto& profile = problem.profiles.emplace_back();
    profile.noise = noise;
    profile.iip3 = 1;
    profile.leak = profile.two = profile.three = {on_channel};
    for (std::size_t s = 0; s < count; ++s) add_station(problem, 2 * noise, 0);
    for (auto& ear : problem.ears) ear.path.assign(count * problem.bands.size(), power);
    return problem;
}

/// Nodes that need `demand` channels each, any two calls at least separation[u][v] apart.
struct Separations {
    std::vector<std::size_t> demand;
    std::vector<std::vector<int>> separation;  ///< [u][u]: between calls of one node
};

/// Solved if everybody reaches 0 dB: one call too near is as loud as the noise or louder, all that
/// are far enough are together at most a twentieth of it.
inline planner::Problem kept_apart(const Separations& asked, std::size_t channels) {
    constexpr double step = 1e-4;
    planner::Problem problem;
    set_channels(problem, 0, channels);
    problem.pair_gain = {1};
    auto& profile = problem.profiles.emplace_back();
    profile.noise = 1;
    profile.leak = {
        [](std::int64_t distance) { return std::pow(step, static_cast<double>(distance)); }};
    profile.two = profile.three = {[](std::int64_t) { return 0.0; }};
    std::vector<std::size_t> node_of;
    for (std::size_t u = 0; u < asked.demand.size(); ++u)
        for (std::size_t call = 0; call < asked.demand[u]; ++call) {
            add_station(problem, 1.9, u);
            node_of.push_back(u);
        }
    for (std::size_t e = 0; e < problem.ears.size(); ++e)
        for (std::size_t s = 0; s < node_of.size(); ++s) {
            const int apart = s == e ? 0 : asked.separation[node_of[e]][node_of[s]];
            const double path = apart == 0 ? 0 : std::pow(step, 1 - apart);
            problem.ears[e].path.insert(problem.ears[e].path.end(), problem.bands.size(), path);
        }
    return problem;
}

/// Whether this program is fast: what takes a second in it takes minutes without optimisation.
#ifdef __OPTIMIZE__
constexpr bool is_optimised = true;
#else
constexpr bool is_optimised = false;
#endif

/// What the search makes of a problem: solved, refuted, or neither within the nodes allowed.
enum class Answer { solved, refuted, open };
inline Answer answer(const planner::Problem& problem, std::uint64_t nodes_max = UINT64_MAX) {
    planner::Effort effort;
    effort.nodes_max = nodes_max;
    const auto reckon = [&](const planner::Choice& choice) {
        return planner::worst_margin_db(problem, choice);
    };
    const auto found = planner::choice_reaching(problem, reckon, 0, effort);
    if (found.worst_db >= 0) return Answer::solved;
    return found.bound_db <= 0 ? Answer::refuted : Answer::open;
}

/// Ordered pairs of nodes at distance one or two in a graph.
inline Separations labelling(std::size_t nodes,
                             const std::vector<std::pair<std::size_t, std::size_t>>& edges,
                             int first, int second) {
    Separations asked{std::vector<std::size_t>(nodes, 1),
                      std::vector<std::vector<int>>(nodes, std::vector<int>(nodes, 0))};
    auto& apart = asked.separation;
    for (const auto& [u, v] : edges) apart[u][v] = apart[v][u] = first;
    const auto near = apart;
    for (std::size_t u = 0; u < nodes; ++u)
        for (std::size_t v = 0; v < nodes; ++v)
            for (std::size_t w = 0; w < nodes && u != v && near[u][v] == 0; ++w)
                if (near[u][w] > 0 && near[w][v] > 0) apart[u][v] = second;
    return asked;
}

}  // namespace fieldpeg::testing
