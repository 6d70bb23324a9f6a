#include "server/planner/rota.h"

#include "server/planner/capacity.h"
#include "server/planner/numbering.h"
#include "server/planner/raise_margins.h"
#include "server/planner/tree.h"
#include "server/planner/twins.h"

#include <algorithm>
#include <cmath>
#include <numeric>
#include <tuple>
#include <utility>

namespace fieldpeg::planner {
namespace {

/// Nodes for one number of groups before the next is tried: unlucky beginnings are left early.
constexpr std::uint64_t nodes_a_try = 20'000;
constexpr std::uint64_t nodes_for_capacity = 100'000;

/// Shares of the time after which a stage goes on with what it has.
constexpr double groups_share = 0.45, sizes_share = 0.55, changes_share = 0.75;

/// With everybody once: as few groups are needed for that as for what was asked, or fewer.
std::shared_ptr<const Tables> easier_tables(const Question& question) {
    Question asked = question;
    asked.groups = 2;
    return std::make_shared<const Tables>(std::move(asked));
}

/// Who stays in the group it is in flies with the others of it who do, and with nobody of another.
Question with_who_stays(Question question, const std::vector<InRota>& before) {
    for (std::size_t a = 0; a < before.size(); ++a)
        for (std::size_t b = a + 1; b < before.size(); ++b)
            if (before[a].stays_in_it && before[b].stays_in_it)
                (before[a].group == before[b].group ? question.together : question.apart)
                    .emplace_back(a, b);
    return question;
}

enum class Answer { yes, no, open };

/// One stage after the other.
class Stages {
public:
    Stages(const Question& question, const RotaTerms& terms, const Effort& effort)
        : question_(with_who_stays(question, terms.before)),
          terms_(terms),
          effort_(effort),
          heads_(static_cast<std::size_t>(std::ranges::count(terms.is_head, true))) {}

    Rota find() {
        const auto easier = easier_tables(question_);
        if (!is_open(easier->problem()) || !Tree(easier->problem()).could_reach(target_db())) {
            rota_.proved = true;  // somebody does not get there even alone
            return std::move(rota_);
        }
        bound_groups(*easier);
        upwards();
        if (!rota_.choice) return std::move(rota_);
        downwards();
        rota_.proved = rota_.groups == rota_.groups_at_least;
        even_sizes();
        save_changes();
        raise_margins();
        count_anew();
        return std::move(rota_);
    }

private:
    double target_db() const { return terms_.target.count(); }

    /// An effort that ends with a share of the time.
    Effort until(double share, std::uint64_t nodes_max) const {
        Effort part = effort_;
        part.nodes_max =
            std::min(nodes_max, effort_.nodes_max - std::min(nodes_, effort_.nodes_max));
        part.stop = [this, share] { return effort_.stop() || effort_.is_past(share); };
        return part;
    }
    bool is_over(double share) const {
        return nodes_ >= effort_.nodes_max || effort_.stop() || effort_.is_past(share);
    }

    void bound_groups(const Tables& easier) {
        const auto part = until(groups_share, nodes_for_capacity);
        Patience patience{part.nodes_max, part.stop};
        const std::size_t by_size = heads_ == 0 ? 1 : (heads_ + most() - 1) / most();
        rota_.groups_at_least =
            std::max({by_size, groups_needed(easier.problem(), target_db()),
                      groups_by_capacity(easier.problem(), target_db(), patience)});
    }
    std::size_t most() const { return std::max<std::size_t>(1, std::min(terms_.size_max, heads_)); }

    /// From the least number on, a short try each, until one does.
    void upwards() {
        for (std::size_t k = rota_.groups_at_least; k <= terms_.groups_max && !rota_.choice; ++k)
            try_groups(k, until(1, nodes_a_try));
        rota_.proved = !rota_.choice && rota_.groups_at_least > terms_.groups_max;
    }
    /// One fewer each time, with ever longer tries from another beginning.
    void downwards() {
        auto longer = until(groups_share, nodes_a_try);
        while (rota_.groups > rota_.groups_at_least && !is_over(groups_share)) {
            longer.seed = longer.seed * 2 + 1;
            longer.nodes_max = std::min(2 * longer.nodes_max, effort_.nodes_max);
            try_groups(rota_.groups - 1, longer);
        }
    }
    void try_groups(std::size_t groups, const Effort& effort) {
        auto tables = std::make_shared<const Tables>(in_groups(question_, groups));
        auto problem = tables->problem();
        if (terms_.size_max < heads_) limit_sizes(problem, SIZE_MAX);
        const auto found = reaching(*tables, problem, effort);
        if (found.best && found.worst_db >= target_db()) {
            take(found);
            rota_.tables = std::move(tables);
            leave_out_empty_groups();
            rota_.groups = rota_.tables->problem().groups;
        } else if (found.bound_db <= target_db()) {
            rota_.groups_at_least = std::max(rota_.groups_at_least, groups + 1);
        }
    }
    void leave_out_empty_groups() {
        const auto& all = *rota_.tables;
        const std::size_t people = question_.allowed.size();
        std::vector<std::size_t> number(all.problem().groups, 0);
        for (std::size_t s = 0; s < people; ++s)
            if (std::ranges::find(question_.in_every_group, s) == question_.in_every_group.end())
                number[(*rota_.choice)[s].group] = 1;
        const auto used = std::max<std::size_t>(
            1, static_cast<std::size_t>(std::ranges::count(number, std::size_t{1})));
        if (used == number.size()) return;
        std::exclusive_scan(number.begin(), number.end(), number.begin(), std::size_t{0});
        auto fewer = std::make_shared<const Tables>(in_groups(question_, used));
        Choice choice;
        for (std::size_t s = 0; s < people; ++s) {
            choice.push_back((*rota_.choice)[s]);
            choice.back().group = number[choice.back().group];
        }
        for (const auto t : question_.in_every_group) choice[t].group = 0;
        for (const auto& [copy, original] : fewer->question().copies) {
            choice.push_back(choice[original]);
            choice.back().group = (copy - people) % std::max<std::size_t>(1, used - 1) + 1;
        }
        rota_.tables = std::move(fewer);
        rota_.choice = std::move(choice);
    }
    void limit_sizes(Problem& problem, std::size_t spread) const {
        problem.roster.is_head = terms_.is_head;
        problem.roster.is_head.resize(problem.stations.size(), false);
        problem.roster.most = terms_.size_max;
        problem.roster.spread_max = spread;
        mark_twins(problem);
    }
    Outcome reaching(const Tables& tables, const Problem& problem, const Effort& effort) {
        auto found = choice_reaching(problem, tables.reckon(), target_db(), effort);
        nodes_ += found.nodes;
        return found;
    }
    Answer answer(const Outcome& found) const {
        if (found.best && found.worst_db >= target_db()) return Answer::yes;
        return found.bound_db <= target_db() ? Answer::no : Answer::open;
    }
    void take(const Outcome& found) {
        rota_.choice = found.best;
        rota_.worst = spectrum::Decibel(found.worst_db);
        rota_.bound = spectrum::Decibel(found.bound_db);
    }

    std::size_t spread_of(const Choice& choice) const {
        const auto size = std::ranges::minmax(sizes(problem_, choice));
        return size.max - size.min;
    }

    /// Sizes that differ by one, or else by as little as can be.
    void even_sizes() {
        problem_ = rota_.tables->problem();
        if (heads_ == 0) return;
        limit_sizes(problem_, SIZE_MAX);
        const auto groups = problem_.groups;
        rota_.spread = spread_of(*rota_.choice);
        rota_.spread_at_least = heads_ % groups == 0 ? 0 : 1;
        bool all_refuted = true;
        for (auto spread = rota_.spread_at_least; spread < rota_.spread && !is_over(sizes_share);
             ++spread) {
            problem_.roster.spread_max = spread;
            const auto found =
                reaching(*rota_.tables, problem_, until(sizes_share, 4 * nodes_a_try));
            const auto is = answer(found);
            if (is == Answer::yes) {
                take(found);
                rota_.spread = spread_of(*found.best);
            }
            all_refuted = all_refuted && is == Answer::no;
            if (all_refuted) rota_.spread_at_least = spread + 1;
        }
        problem_.roster.spread_max = rota_.spread;
    }

    /// The fewest changes to what is held, whichever numbers the groups keep.
    void save_changes() {
        ways_ = numberings(rota_.tables->problem(), terms_);
        by_ = ways_.all.front();
        if (terms_.before.empty()) return;
        begin_with_few_changes();
        rota_.changes_at_least = SIZE_MAX;
        for (const auto& numbers : ways_.all)
            rota_.changes_at_least = std::min(rota_.changes_at_least,
                                              sure_changes(kept(*rota_.tables, terms_, numbers)));
        rota_.changes_at_least = std::min(rota_.changes_at_least, rota_.changes);
        std::size_t stride = 1;
        for (auto most = rota_.changes_at_least; most < rota_.changes && !is_over(changes_share);) {
            const auto is = try_changes(most);
            if (is == Answer::yes) break;
            if (is == Answer::no && rota_.changes_at_least == most)
                rota_.changes_at_least = most + 1;
            else
                stride *= 2;
            most += stride;
        }
    }
    /// What has been found, numbered so that the fewest change, and back to what is held whoever
    /// may.
    void begin_with_few_changes() {
        const auto numbered = numbered_alike(*rota_.tables, terms_, ways_, *rota_.choice);
        by_ = numbered.numbers;
        const auto held = kept(*rota_.tables, terms_, by_);
        problem_.roster.kept = held;
        rota_.choice = numbered.choice;
        for (std::size_t s = 0; s < terms_.before.size() && !is_over(changes_share); ++s)
            go_back(s, held[s]);
        rota_.changes = changes(problem_.roster, *rota_.choice);
        rota_.worst = spectrum::Decibel(rota_.tables->reckon(*rota_.choice));
    }
    void go_back(std::size_t s, const Kept& held) {
        const auto try_it = [&](Choice back) {
            if (!is_lawful(problem_, back) || rota_.tables->reckon(back) < target_db())
                return false;
            rota_.choice = std::move(back);
            return true;
        };
        if (changes(held, (*rota_.choice)[s]) == 0) return;
        auto back = *rota_.choice;
        if (held.channel) std::tie(back[s].band, back[s].channel) = *held.channel;
        if (held.channel && held.channel == Kept::gone_channel) return;
        if (held.group && *held.group < problem_.groups) back[s].group = *held.group;
        if (try_it(back)) return;
        back[s].group = (*rota_.choice)[s].group;
        if (back != *rota_.choice) try_it(std::move(back));
    }
    Answer try_changes(std::size_t most) {
        bool all_refuted = ways_.complete;
        for (const auto& numbers : ways_.all) {
            const auto problem = with_changes(numbers, most);
            const auto found =
                reaching(*rota_.tables, problem, until(changes_share, 2 * nodes_a_try));
            const auto is = answer(found);
            if (is == Answer::yes) {
                take(found);
                by_ = numbers;
                rota_.changes = changes(problem.roster, *found.best);
                return Answer::yes;
            }
            all_refuted = all_refuted && is == Answer::no;
        }
        return all_refuted ? Answer::no : Answer::open;
    }
    Problem with_changes(const Numbers& numbers, std::size_t most) const {
        auto problem = problem_;
        problem.roster.kept = kept(*rota_.tables, terms_, numbers);
        problem.roster.changes_max = most;
        keep_in_groups(problem, terms_, numbers);
        mark_twins(problem);
        return problem;
    }

    void raise_margins() {
        double bound = ways_.complete ? -INFINITY : rota_.bound.count();
        auto best = std::pair(rota_.worst.count(), *rota_.choice);
        auto best_by = by_;
        for (const auto& numbers : ways_.all) {
            const auto problem =
                terms_.before.empty() ? problem_ : with_changes(numbers, rota_.changes);
            auto from = numbers == by_ ? rota_.choice : std::nullopt;
            auto found = raised(problem, *rota_.tables, std::move(from), until(1, UINT64_MAX));
            nodes_ += found.nodes;
            bound = std::max(bound, found.bound_db);
            if (!found.best || found.worst_db <= best.first) continue;
            best = {found.worst_db, *found.best};
            best_by = numbers;
        }
        rota_.choice = best.second;
        rota_.worst = spectrum::Decibel(best.first);
        rota_.bound = spectrum::Decibel(std::max(bound, best.first));
        rota_.numbers = best_by;
    }

    /// What came last may be better than asked.
    void count_anew() {
        if (heads_ > 0) rota_.spread = spread_of(*rota_.choice);
        rota_.spread_at_least = std::min(rota_.spread_at_least, rota_.spread);
        problem_.roster.kept = kept(*rota_.tables, terms_, rota_.numbers);
        rota_.changes = changes(problem_.roster, *rota_.choice);
        rota_.changes_at_least = std::min(rota_.changes_at_least, rota_.changes);
    }

    Question question_;
    const RotaTerms& terms_;
    const Effort& effort_;
    std::size_t heads_;
    std::uint64_t nodes_ = 0;
    Problem problem_;  ///< of so many groups, with their sizes
    Numberings ways_;
    Numbers by_;  ///< of the choice
    Rota rota_;
};

}  // namespace

Rota rota(const Question& question, const RotaTerms& terms, const Effort& effort) {
    return Stages(question, terms, effort).find();
}

Rota fewest_groups(const Question& question, spectrum::Decibel target, std::size_t groups_max,
                   const Effort& effort) {
    return rota(question, {target, groups_max}, effort);
}

}  // namespace fieldpeg::planner
