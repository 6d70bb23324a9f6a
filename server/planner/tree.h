#pragma once

#include "server/planner/domains.h"
#include "server/planner/interference.h"
#include "server/planner/levels.h"
#include "server/planner/packing.h"
#include "server/planner/problem.h"
#include "server/planner/roster.h"

#include <cstddef>
#include <cstdint>
#include <functional>
#include <vector>

namespace fieldpeg::planner {

/// How long a search may go on.
struct Patience {
    std::uint64_t nodes_max;
    const std::function<bool()>& stop;
    std::uint64_t nodes_between_looks = 1000;
    std::uint64_t nodes = 0;
    bool is_over = false;

    /// Counts a node; true: go no further.
    bool ends() {
        if (++nodes % nodes_between_looks == 0 && stop()) is_over = true;
        if (nodes >= nodes_max) is_over = true;
        return is_over;
    }
};

/// Depth-first search for choices that reach a target by the tables.
///
/// Pruned by what is still to come (Interference, Packing); the strong with little room go first;
/// what is refuted for one is refuted for its twins yet to be put, and in every group nobody is in.
class Tree {
public:
    /// Given a whole choice; true: that is it, look no further.
    using Accept = std::function<bool(const Choice&)>;

    explicit Tree(const Problem& problem);

    /// All that everybody may take.
    const Words& all() const { return all_; }
    const LevelTables& levels() const { return levels_; }
    const Domains& domains() const { return domains_; }

    /// Whether everybody alone could reach the target on something.
    bool could_reach(double target_db);
    /// Whether a choice out of `words` reaches the target and is accepted. False also when
    /// patience is over.
    bool search(const Words& words, double target_db, const Accept& accept, Patience& patience);

private:
    bool descend(std::size_t groups_in_use, const Accept& accept, Patience& patience);
    std::size_t tightest(const Words& words, std::size_t groups_in_use) const;
    std::vector<Pick> picks(const Words& words, std::size_t station,
                            std::size_t groups_in_use) const;
    Choice choice() const;

    const Problem& problem_;
    LevelTables levels_;
    Interference interference_;
    Domains domains_;
    Packing packing_;
    RosterLimits roster_;
    Words all_;
    std::vector<Words> words_;      ///< [depth]
    std::vector<double> strength_;  ///< [station]: its greatest power
};

}  // namespace fieldpeg::planner
