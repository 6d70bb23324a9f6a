#pragma once

#include "server/planner/domains.h"
#include "server/planner/field.h"
#include "server/planner/problem.h"

#include <array>
#include <cstdint>
#include <vector>

namespace fieldpeg::planner {

/// Whether the stations still to be put can stand on the channels left at all: at the target no two
/// may be nearer than the least spacing of any pair, so that many stand in a row at most.
class Packing {
public:
    explicit Packing(const Problem& problem);

    void set_target_db(double target_db);
    bool has_room(const Words& words, const Domains& domains, const Field& field) const;

    /// The least distance in steps at which two stations alone both reach the target; -1 if that
    /// is so anyhow, INT64_MAX if at none within `farthest`.
    static std::int64_t least_spacing(const Problem& problem, std::size_t a, std::size_t b,
                                      double target, std::int64_t farthest);

private:
    const Problem& problem_;
    std::int64_t widest_ = 0;
    std::int64_t spacing_ = 0;
    std::vector<std::array<std::uint64_t, band_size_max>> beyond_;  ///< [band][channel]
};

}  // namespace fieldpeg::planner
