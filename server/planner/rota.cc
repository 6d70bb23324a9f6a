#include "server/planner/rota.h"

#include "server/planner/capacity.h"
#include "server/planner/packing.h"
#include "server/planner/tree.h"

#include <algorithm>
#include <cmath>
#include <numeric>
#include <utility>

namespace fieldpeg::planner {
namespace {

/// Nodes for one number of groups before the next is tried: unlucky beginnings are left early.
constexpr std::uint64_t nodes_a_try = 20'000;
constexpr std::uint64_t nodes_for_capacity = 100'000;

/// Whether two stations find channels far enough apart.
bool can_meet(const Problem& problem, const Spacings& spacings, std::size_t a, std::size_t b) {
    const auto pair = std::minmax(a, b);
    for (const auto& [x, y] : problem.apart)
        if (std::minmax(x, y) == pair) return false;
    const std::int64_t least = spacings.between(a, b);
    if (least == Spacings::never) return false;
    const auto& s = problem.stations[a].channels;
    const auto& t = problem.stations[b].channels;
    for (std::size_t i = 0; i < problem.bands.size(); ++i)
        for (std::size_t c = 0; c < problem.bands[i].size(); ++c)
            for (std::size_t j = 0; j < problem.bands.size() && (s[i] >> c & 1) != 0; ++j)
                for (std::size_t d = 0; d < problem.bands[j].size(); ++d)
                    if ((t[j] >> d & 1) != 0 &&
                        std::abs(problem.bands[i][c] - problem.bands[j][d]) >= least)
                        return true;
    return false;
}

/// How many stations of a row find room in one group, if they must keep `least` steps apart.
std::size_t places(const Problem& problem, const std::vector<std::size_t>& row,
                   std::int64_t least) {
    std::size_t count = 0;
    for (std::size_t band = 0; band < problem.bands.size(); ++band) {
        std::int64_t next = INT64_MIN;
        for (std::size_t c = 0; c < problem.bands[band].size(); ++c) {
            const auto open = [&](std::size_t s) {
                return (problem.stations[s].channels[band] >> c & 1) != 0;
            };
            const std::int64_t step = problem.bands[band][c];
            if (step < next || std::ranges::none_of(row, open)) continue;
            ++count;
            next = step + least;
        }
    }
    return count;
}

/// A set of stations pairwise related, grown greedily from each station in turn; the largest.
template <class Related>
std::vector<std::size_t> related_set(std::size_t stations, Related related) {
    std::vector<std::size_t> largest;
    for (std::size_t first = 0; first < stations; ++first) {
        std::vector<std::size_t> set{first};
        for (std::size_t s = 0; s < stations; ++s)
            if (std::ranges::all_of(set, [&](std::size_t t) { return t != s && related(s, t); }))
                set.push_back(s);
        if (set.size() > largest.size()) largest = std::move(set);
    }
    return largest;
}

std::size_t by_rows(const Problem& problem, const Spacings& spacings) {
    std::vector<std::int64_t> distances;
    for (std::size_t a = 0; a < problem.stations.size(); ++a)
        for (std::size_t b = a + 1; b < problem.stations.size(); ++b)
            if (spacings.between(a, b) > 0 && spacings.between(a, b) != Spacings::never)
                distances.push_back(spacings.between(a, b));
    std::ranges::sort(distances);
    std::size_t most = 1;
    for (const std::size_t part :
         {std::size_t{0}, std::size_t{2}, std::size_t{4}, std::size_t{8}}) {
        if (distances.empty()) break;
        const std::int64_t least = distances[part * (distances.size() - 1) / 8];
        const auto row = related_set(problem.stations.size(), [&](std::size_t s, std::size_t t) {
            return spacings.between(s, t) >= least;
        });
        const std::size_t room = std::max<std::size_t>(1, places(problem, row, least));
        most = std::max(most, (row.size() + room - 1) / room);
    }
    return most;
}

Outcome with_groups(const Tables& tables, double target_db, const Effort& effort) {
    return choice_reaching(tables.problem(), tables.reckon(), target_db, effort);
}

/// With everybody once: as few groups are needed for that as for what was asked, or fewer.
std::shared_ptr<const Tables> easier_tables(const Question& question) {
    Question asked = question;
    asked.groups = 2;
    return std::make_shared<const Tables>(std::move(asked));
}

/// Who is in every group stands in the first; copies at the end in the rest.
std::shared_ptr<const Tables> tables_of(const Question& question, std::size_t groups) {
    Question asked = question;
    asked.groups = groups;
    for (const auto t : question.in_every_group) {
        asked.allowed[t].groups = 1;
        for (std::size_t group = 1; group < groups; ++group) {
            const std::size_t copy = asked.allowed.size();
            asked.scene.transmitters.push_back(question.scene.transmitters[t]);
            asked.allowed.push_back(question.allowed[t]);
            asked.allowed.back().groups = std::uint64_t{1} << group;
            asked.copies.emplace_back(copy, t);
        }
    }
    return std::make_shared<const Tables>(std::move(asked));
}

std::size_t groups_in(const Choice& choice) {
    std::size_t most = 0;
    for (const auto& pick : choice) most = std::max(most, pick.group + 1);
    return most;
}

/// The search for the fewest groups.
class Fewest {
public:
    Fewest(const Question& question, double target_db, std::size_t groups_max, const Effort& effort)
        : question_(question), target_db_(target_db), groups_max_(groups_max), effort_(effort) {}

    Rota find() {
        const auto tables = easier_tables(question_);
        if (!is_open(tables->problem()) || !Tree(tables->problem()).could_reach(target_db_)) {
            rota_.proved = true;  // somebody does not get there even alone
            return std::move(rota_);
        }
        Patience patience{std::min(effort_.nodes_max, nodes_for_capacity), effort_.stop};
        rota_.groups_at_least =
            std::max(groups_needed(tables->problem(), target_db_),
                     groups_by_capacity(tables->problem(), target_db_, patience));
        upwards();
        if (!rota_.choice) return std::move(rota_);
        downwards();
        rota_.proved = rota_.groups == rota_.groups_at_least;
        raise_margins();
        return std::move(rota_);
    }

private:
    /// From the least number on, a short try each, until one does.
    void upwards() {
        Effort brief = effort_;
        brief.nodes_max = std::min(effort_.nodes_max, nodes_a_try);
        for (std::size_t k = rota_.groups_at_least; k <= groups_max_ && !rota_.choice; ++k)
            attempt(k, brief);
        rota_.proved = !rota_.choice && rota_.groups_at_least > groups_max_;
    }
    /// One fewer each time, with ever longer tries from another beginning.
    void downwards() {
        Effort longer = effort_;
        longer.nodes_max = nodes_a_try;
        while (rota_.groups > rota_.groups_at_least && nodes_ < effort_.nodes_max &&
               !effort_.stop()) {
            longer.seed = longer.seed * 2 + 1;
            longer.nodes_max = std::min(2 * longer.nodes_max, effort_.nodes_max);
            attempt(rota_.groups - 1, longer);
        }
    }
    void attempt(std::size_t groups, const Effort& effort) {
        auto tables = tables_of(question_, groups);
        const auto found = with_groups(*tables, target_db_, effort);
        nodes_ += found.nodes;
        if (found.best && found.worst_db >= target_db_) {
            rota_.tables = std::move(tables);
            rota_.choice = found.best;
            rota_.groups = std::max(groups_in(*found.best), rota_.groups_at_least);
            rota_.worst = spectrum::Decibel(found.worst_db);
            rota_.bound = spectrum::Decibel(found.bound_db);
        } else if (found.bound_db <= target_db_) {
            rota_.groups_at_least = std::max(rota_.groups_at_least, groups + 1);
        }
    }
    void raise_margins() {
        if (nodes_ >= effort_.nodes_max || effort_.stop()) return;
        Effort rest = effort_;
        rest.from = rota_.choice;
        rest.nodes_max = effort_.nodes_max - nodes_;
        const auto found = best_choice(rota_.tables->problem(), rota_.tables->reckon(), rest);
        rota_.choice = found.best;
        rota_.worst = spectrum::Decibel(found.worst_db);
        rota_.bound = spectrum::Decibel(found.bound_db);
    }

    const Question& question_;
    double target_db_;
    std::size_t groups_max_;
    const Effort& effort_;
    std::uint64_t nodes_ = 0;
    Rota rota_;
};

}  // namespace

std::size_t groups_needed(const Problem& problem, double target_db) {
    const Spacings spacings(problem, target_db);
    const auto strangers = related_set(problem.stations.size(), [&](std::size_t s, std::size_t t) {
        return !can_meet(problem, spacings, s, t);
    });
    return std::max({std::size_t{1}, strangers.size(), by_rows(problem, spacings)});
}

Rota fewest_groups(const Question& question, spectrum::Decibel target, std::size_t groups_max,
                   const Effort& effort) {
    return Fewest(question, target.count(), groups_max, effort).find();
}

}  // namespace fieldpeg::planner
