#pragma once

#include "server/planner/domains.h"
#include "server/planner/interference.h"
#include "server/planner/problem.h"

#include <array>
#include <cstddef>
#include <cstdint>
#include <vector>

namespace fieldpeg::planner {

/// How far two stations must keep apart, in steps, for both to reach a target beside each other:
/// `never` if they cannot at all, 0 if they may share a channel.
///
/// A bound: the best powers and bands are taken, and others count only where there is but one band
/// and one group, and then as far off as the band is wide.
class Spacings {
public:
    static constexpr std::int64_t never = INT64_MAX;

    Spacings(const Problem& problem, double target_db);

    std::int64_t between(std::size_t a, std::size_t b) const { return steps_[a * size_ + b]; }

private:
    std::size_t size_;
    std::vector<std::int64_t> steps_;
};

/// Whether the stations still to be put can stand on the channels left at all: of stations that
/// pairwise must keep so far apart only so many stand in a row.
class Packing {
public:
    explicit Packing(const Problem& problem) : problem_(problem) {}

    void set_target_db(double target_db);
    bool has_room(const Words& words, const Domains& domains, const Interference& interference);

private:
    static constexpr std::size_t cliques_max = 24;  ///< looked at; more take longer than they save

    /// Stations that pairwise must keep apart.
    struct Clique {
        std::vector<std::size_t> stations;
        std::vector<std::array<std::uint64_t, band_size_max>> beyond;  ///< [band][channel]
    };

    void add_clique(const Spacings& spacings, std::size_t first, std::int64_t least);
    bool has_room(const Clique& clique, const Words& words, const Domains& domains,
                  const Interference& interference);

    const Problem& problem_;
    std::vector<Clique> cliques_;
    std::vector<std::uint64_t> open_;  ///< [group][band]: what those of a clique may take
};

}  // namespace fieldpeg::planner
