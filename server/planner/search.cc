#include "server/planner/search.h"

#include "server/planner/domains.h"
#include "server/planner/field.h"
#include "server/planner/packing.h"
#include "server/planner/start.h"

#include <algorithm>
#include <bit>
#include <cmath>
#include <utility>

namespace fieldpeg::planner {
namespace {

constexpr std::uint64_t nodes_between_looks = 1000;
constexpr double rounding_db = 1e-9;
/// How far beyond the best so far a target is set, the next one once that is refuted.
constexpr double steps_db[] = {3, 1, 0.5, 0.2, 0.05, 0};

/// Depth-first search against one target after the other.
class Search {
public:
    Search(const Problem& problem, const Reckon& reckon, const Effort& effort)
        : problem_(problem), reckon_(reckon), effort_(effort), rows_(problem),
          field_(problem, rows_), domains_(problem), packing_(problem),
          words_(problem.stations.size() + 1, domains_.all()) {
        for (const auto& s : problem.stations)
            strength_.push_back(s.powers.empty() ? 1 : *std::ranges::max_element(s.powers));
    }

    Outcome best() {
        if (!begin()) return out_;
        const auto* step = std::begin(steps_db);
        while (!stopped_ && !meet()) {
            const double target = std::min(
                out_.worst_db + std::max(*step, effort_.tolerance_db), out_.bound_db);
            if (reaches(target) || stopped_) continue;
            lower_bound_to(target);
            if (step + 1 != std::end(steps_db)) ++step;
        }
        return finish();
    }

    Outcome reaching(double target_db) {
        if (!begin()) return out_;
        if (out_.worst_db < target_db && out_.bound_db >= target_db && !reaches(target_db) &&
            !stopped_)
            lower_bound_to(target_db);
        return finish();
    }

private:
    /// The first choice; false if there is none.
    bool begin() {
        out_ = {std::nullopt, -INFINITY, INFINITY, false, 0};
        if (!is_open(problem_)) {
            out_.bound_db = -INFINITY;
            return false;
        }
        out_.bound_db = best_alone();
        if (effort_.from) offer(*effort_.from);
        Start start(problem_, rows_, effort_.seed);
        offer(start.improve(effort_.from ? *effort_.from : start.greedy(), effort_.moves_max,
                            effort_.stop));
        climb();
        return true;
    }
    Outcome finish() {
        out_.proved = meet();
        return out_;
    }
    bool meet() const {
        return out_.bound_db - out_.worst_db <= effort_.tolerance_db + rounding_db;
    }
    void lower_bound_to(double target_db) {
        out_.bound_db = std::max(std::min(out_.bound_db, target_db), out_.worst_db);
        effort_.progress(out_);
    }

    /// No goal can do better than alone on its best channel: found by bisection on the field.
    double best_alone() {
        double low = -200, high = 200;
        while (high - low > effort_.tolerance_db / 4) {
            const double middle = (low + high) / 2;
            field_.set_target_db(middle);
            auto words = domains_.all();
            (domains_.narrow(words, field_) ? low : high) = middle;
        }
        return high >= 200 ? INFINITY : high + Field::rounding_db;
    }

    bool offer(const Choice& choice) {
        const double worst = reckon_(choice);
        if (out_.best && worst <= out_.worst_db) return false;
        out_.best = choice;
        out_.worst_db = worst;
        out_.bound_db = std::max(out_.bound_db, worst);
        effort_.progress(out_);
        return true;
    }

    /// Moves one station at a time as long as that helps: products count here.
    void climb() {
        std::size_t trials = effort_.moves_max;
        for (bool helped = true; helped;) {
            helped = false;
            for (std::size_t s = 0; s < problem_.stations.size(); ++s) {
                domains_.for_each(words_[0], s, [&](Pick pick, std::uint64_t word) {
                    for (; word != 0 && trials > 0; word &= word - 1) {
                        Choice moved = *out_.best;
                        pick.channel = static_cast<std::size_t>(std::countr_zero(word));
                        if (std::exchange(moved[s], pick) == pick || !is_lawful(moved)) continue;
                        --trials;
                        if (trials % 16 == 0 && effort_.stop()) trials = 0;
                        helped = offer(moved) || helped;
                    }
                });
            }
        }
    }
    bool is_lawful(const Choice& choice) const {
        const auto same = [&](const auto& pair) {
            return choice[pair.first].group == choice[pair.second].group;
        };
        return std::ranges::none_of(problem_.apart, same) &&
               std::ranges::all_of(problem_.together, same);
    }

    bool looks_up() {
        if (++out_.nodes % nodes_between_looks == 0 && effort_.stop()) stopped_ = true;
        if (out_.nodes >= effort_.nodes_max) stopped_ = true;
        return stopped_;
    }

    /// Whether some choice reaches the target; then it is the best so far.
    bool reaches(double target_db) {
        target_db_ = target_db;
        field_.set_target_db(target_db - Field::rounding_db);
        packing_.set_target_db(target_db - Field::rounding_db);
        words_[0] = domains_.all();
        const bool found = domains_.narrow(words_[0], field_) && descend(0);
        while (field_.count() > 0) field_.take_back();
        return found;
    }

    std::size_t tightest(const Words& words, std::size_t groups_in_use) const {
        std::size_t next = 0;
        double least = INFINITY;
        for (std::size_t s = 0; s < problem_.stations.size(); ++s) {
            if (field_.is_put(s)) continue;
            const double room =
                static_cast<double>(domains_.left(words, s, groups_in_use)) / strength_[s];
            if (room < least) {
                least = room;
                next = s;
            }
        }
        return next;
    }

    /// What a station may take, that which uses least of its room first; of the groups nobody is in
    /// only the first.
    std::vector<Pick> picks(const Words& words, std::size_t station,
                            std::size_t groups_in_use) const {
        std::vector<std::pair<double, Pick>> list;
        domains_.for_each(words, station, [&](Pick pick, std::uint64_t word) {
            if (domains_.groups_alike() && pick.group > groups_in_use) return;
            for (; word != 0; word &= word - 1) {
                pick.channel = static_cast<std::size_t>(std::countr_zero(word));
                list.emplace_back(field_.used(station, pick), pick);
            }
        });
        std::ranges::sort(list);
        std::vector<Pick> picks;
        for (const auto& entry : list) picks.push_back(entry.second);
        return picks;
    }

    bool descend(std::size_t groups_in_use) {
        if (looks_up()) return false;
        const std::size_t depth = field_.count();
        if (depth == problem_.stations.size()) return accept();
        if (!packing_.has_room(words_[depth], domains_, field_)) return false;
        const auto station = tightest(words_[depth], groups_in_use);
        for (const auto& pick : picks(words_[depth], station, groups_in_use)) {
            words_[depth + 1] = words_[depth];
            const bool found = field_.put(station, pick) &&
                               domains_.narrow(words_[depth + 1], field_, station) &&
                               descend(std::max(groups_in_use, pick.group + 1));
            field_.take_back();
            if (found || stopped_) return found;
            if (!domains_.forbid(words_[depth], field_, station, pick, groups_in_use)) return false;
        }
        return false;
    }

    bool accept() {
        Choice choice;
        for (std::size_t s = 0; s < problem_.stations.size(); ++s)
            choice.push_back(field_.pick(s));
        return reckon_(choice) >= target_db_ && offer(choice);
    }

    const Problem& problem_;
    const Reckon& reckon_;
    const Effort& effort_;
    Rows rows_;
    Field field_;
    Domains domains_;
    Packing packing_;
    std::vector<Words> words_;  ///< [depth]
    std::vector<double> strength_;
    double target_db_ = 0;
    bool stopped_ = false;
    Outcome out_{};
};

}  // namespace

Outcome best_choice(const Problem& problem, const Reckon& reckon, const Effort& effort) {
    return Search(problem, reckon, effort).best();
}

Outcome choice_reaching(const Problem& problem, const Reckon& reckon, double target_db,
                        const Effort& effort) {
    return Search(problem, reckon, effort).reaching(target_db);
}

}  // namespace fieldpeg::planner
