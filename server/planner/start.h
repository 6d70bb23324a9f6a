#pragma once

#include "server/planner/levels.h"
#include "server/planner/problem.h"

#include <cstddef>
#include <cstdint>
#include <functional>
#include <vector>

namespace fieldpeg::planner {

/// Local search over sums of leak alone, products left out: a choice soon, good rather than best.
///
/// One station at a time is moved to where the sum of all goals' shortfalls is least, a shortfall
/// being one over its margin ratio squared; the worst off and those who disturb them
/// come first, and nobody moves again at once. Same problem and seed, same choice.
class Start {
public:
    Start(const Problem& problem, const LevelTables& levels, std::uint64_t seed);

    /// Goes on from a choice, or from nothing, for so many moves or until `stop`; the best met.
    Choice improve(Choice from, std::size_t moves, const std::function<bool()>& stop);
    /// Everybody in turn where it costs least, those with the strongest signal first.
    Choice greedy();

private:
    static double shortfall(double ratio) { return 1 / (ratio * ratio); }

    void reset();
    void put(std::size_t station, const Pick& pick, double sign);
    std::vector<Pick> picks_of(std::size_t station) const;
    bool is_allowed(std::size_t station, std::size_t group) const;
    bool is_full(std::size_t station, std::size_t group) const;
    bool is_elsewhere(std::size_t station, const Pick& pick) const;
    double power(std::size_t ear, std::size_t station, const Pick& pick) const;
    double leak(std::size_t ear, std::size_t station, const Pick& pick, const Pick& own) const;
    double margin(std::size_t ear, const Pick& own, double sum, double others) const;
    double ratio(std::size_t goal, std::size_t moved, const Pick* to) const;
    double own_shortfall(std::size_t station, const Pick& pick) const;
    std::vector<double> shortfalls() const;
    double harm(std::size_t station, const Pick& pick, const std::vector<double>& now) const;
    Pick best_for(std::size_t station, const Pick& otherwise) const;
    std::size_t next_to_move(const std::vector<std::size_t>& rests_until, std::size_t move);
    std::size_t in_another_group(std::size_t station);
    double worst() const;
    std::uint64_t random();

    const Problem& problem_;
    const LevelTables& levels_;
    std::uint64_t state_;
    Choice at_;
    std::vector<bool> is_put_;
    std::vector<double> leak_;                        ///< [ear]
    std::vector<double> others_;                      ///< [ear]
    std::vector<std::size_t> station_of_;             ///< [goal]
    std::vector<std::vector<std::size_t>> goals_of_;  ///< [station]
};

}  // namespace fieldpeg::planner
