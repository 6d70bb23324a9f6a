#include "server/planner/tree.h"

#include <algorithm>
#include <bit>
#include <cmath>
#include <tuple>
#include <utility>

namespace fieldpeg::planner {

Tree::Tree(const Problem& problem)
    : problem_(problem),
      levels_(problem),
      interference_(problem, levels_),
      domains_(problem),
      packing_(problem),
      roster_(problem),
      all_(domains_.all()),
      words_(problem.stations.size() + 1, all_) {
    for (const auto& s : problem.stations) strength_.push_back(*std::ranges::max_element(s.powers));
}

bool Tree::could_reach(double target_db) {
    interference_.set_target_db(target_db);
    auto words = all_;
    return domains_.narrow(words, interference_);
}

bool Tree::search(const Words& words, double target_db, const Accept& accept, Patience& patience) {
    interference_.set_target_db(target_db);
    packing_.set_target_db(target_db);
    words_[0] = words;
    const bool found = domains_.narrow(words_[0], interference_) && descend(0, accept, patience);
    while (interference_.count() > 0) interference_.take_back();
    return found;
}

bool Tree::descend(std::size_t groups_in_use, const Accept& accept, Patience& patience) {
    if (patience.ends()) return false;
    const std::size_t depth = interference_.count();
    if (depth == problem_.stations.size()) return accept(choice());
    if (!roster_.narrow(words_[depth], domains_, interference_) ||
        !packing_.has_room(words_[depth], domains_, interference_))
        return false;
    const auto station = tightest(words_[depth], groups_in_use);
    for (const auto& pick : picks(words_[depth], station, groups_in_use)) {
        words_[depth + 1] = words_[depth];
        const bool found = interference_.put(station, pick) &&
                           domains_.narrow(words_[depth + 1], interference_, station) &&
                           descend(std::max(groups_in_use, pick.group + 1), accept, patience);
        interference_.take_back();
        if (found || patience.is_over) return found;
        if (!domains_.forbid(words_[depth], interference_, station, pick, groups_in_use))
            return false;
    }
    return false;
}

std::size_t Tree::tightest(const Words& words, std::size_t groups_in_use) const {
    std::size_t next = 0;
    double least = INFINITY;
    for (std::size_t s = 0; s < problem_.stations.size(); ++s) {
        if (interference_.is_put(s)) continue;
        const double room =
            static_cast<double>(domains_.left(words, s, groups_in_use)) / strength_[s];
        if (room < least) {
            least = room;
            next = s;
        }
    }
    return next;
}

/// What a station may take, what it holds first, then that which uses least of its room; of the
/// groups nobody is in only the first.
std::vector<Pick> Tree::picks(const Words& words, std::size_t station,
                              std::size_t groups_in_use) const {
    std::vector<std::tuple<std::size_t, double, Pick>> list;
    domains_.for_each(words, station, [&](Pick pick, std::uint64_t word) {
        if (domains_.groups_alike() && pick.group > groups_in_use) return;
        for (; word != 0; word &= word - 1) {
            pick.channel = static_cast<std::size_t>(std::countr_zero(word));
            list.emplace_back(roster_.changes(station, pick), interference_.used(station, pick),
                              pick);
        }
    });
    std::ranges::sort(list);
    std::vector<Pick> picks;
    picks.reserve(list.size());
    for (const auto& entry : list) picks.push_back(std::get<Pick>(entry));
    return picks;
}

Choice Tree::choice() const {
    Choice choice;
    for (std::size_t s = 0; s < problem_.stations.size(); ++s)
        choice.push_back(interference_.pick(s));
    return choice;
}

}  // namespace fieldpeg::planner
