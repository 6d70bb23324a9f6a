#pragma once

#include "server/planner/domains.h"
#include "server/planner/interference.h"
#include "server/planner/problem.h"

#include <cstddef>
#include <vector>

namespace fieldpeg::planner {

/// Keeps a search to the sizes of groups and to the changes that a roster allows.
class RosterLimits {
public:
    explicit RosterLimits(const Problem& problem);

    /// Takes away what no completion within the limits has; false if somebody has nothing left, or
    /// there is none.
    bool narrow(Words& words, const Domains& domains, const Interference& interference);
    /// Changes that a pick makes to what its station holds, where they are limited.
    std::size_t changes(std::size_t station, const Pick& pick) const;

private:
    bool find_open_groups(std::size_t waiting);
    bool fit_sizes(Words& words, const Domains& domains, const Interference& interference);
    bool fit_changes(Words& words, const Domains& domains, const Interference& interference);
    std::size_t least_changes(const Words& words, const Domains& domains,
                              std::size_t station) const;
    void keep_within(Words& words, const Domains& domains, std::size_t station,
                     std::size_t most) const;

    const Problem& problem_;
    bool sizes_matter_;
    bool changes_matter_;
    std::vector<std::size_t> sizes_;    ///< [group] of those put
    std::vector<bool> is_open_;         ///< [group]
    std::vector<std::size_t> changes_;  ///< [station]: at least
};

}  // namespace fieldpeg::planner
