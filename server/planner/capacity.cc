#include "server/planner/capacity.h"

#include <algorithm>
#include <cmath>
#include <map>
#include <utility>
#include <vector>

namespace fieldpeg::planner {
namespace {

/// Stations whose goals are alike in number, ears and profiles.
struct Family {
    std::vector<std::size_t> stations;
    std::vector<std::vector<std::size_t>> ears;  ///< of each, goal by goal
    std::vector<std::size_t> goal_sizes;
};

/// Families of stations of one kind with one shape of goals. Those with none are in no family, nor
/// those who are only held to something: the target asks less of them.
std::vector<Family> families(const Problem& problem) {
    std::vector<std::vector<std::size_t>> goals_of(problem.stations.size());
    for (std::size_t g = 0; g < problem.goals.size(); ++g)
        goals_of[problem.ears[problem.goals[g].front()].station].push_back(g);
    std::map<std::vector<std::size_t>, Family> found;
    for (std::size_t s = 0; s < goals_of.size(); ++s) {
        std::vector<std::size_t> key{problem.stations[s].kind}, ears, sizes;
        for (const auto g : goals_of[s]) {
            sizes.push_back(problem.goals[g].size());
            key.push_back(sizes.back());
            for (const auto e : problem.goals[g]) {
                ears.push_back(e);
                key.push_back(problem.ears[e].profile);
            }
        }
        const auto is_held = [&](std::size_t g) { return problem.is_held(g); };
        if (ears.empty() || std::ranges::any_of(goals_of[s], is_held)) continue;
        auto& family = found[key];
        family.stations.push_back(s);
        family.ears.push_back(std::move(ears));
        family.goal_sizes = std::move(sizes);
    }
    std::vector<Family> all;
    all.reserve(found.size());
    for (auto& entry : found) all.push_back(std::move(entry.second));
    return all;
}

/// Twins in one group, each with the best of what a family has, at power 1.
class Ideal {
public:
    Ideal(const Problem& problem, const Family& family) : problem_(problem), family_(family) {
        twin_.kind = problem.stations[family.stations.front()].kind;
        twin_.powers = {1};
        twin_.channels.assign(problem.bands.size(), 0);
        for (const auto s : family.stations)
            for (std::size_t band = 0; band < problem.bands.size(); ++band)
                twin_.channels[band] |= problem.stations[s].channels[band];
        for (std::size_t i = 0; i < family.ears.front().size(); ++i) ears_.push_back(best_ear(i));
    }

    Problem of(std::size_t count) const {
        Problem ideal;
        ideal.bands = problem_.bands;
        ideal.profiles = problem_.profiles;
        ideal.pair_gain = problem_.pair_gain;
        ideal.triple_gain = problem_.triple_gain;
        ideal.product_reach = problem_.product_reach;
        ideal.stations.assign(count, twin_);
        for (std::size_t s = 0; s < count; ++s) {
            std::size_t next = 0;
            for (const auto size : family_.goal_sizes) {
                auto& goal = ideal.goals.emplace_back();
                for (std::size_t i = 0; i < size; ++i) {
                    goal.push_back(ideal.ears.size());
                    ideal.ears.push_back(ears_[next++]);
                    auto& ear = ideal.ears.back();
                    ear.station = s;
                    const auto from_one = ear.path;
                    ear.path.clear();
                    for (std::size_t x = 0; x < count; ++x)
                        ear.path.insert(ear.path.end(), from_one.begin(), from_one.end());
                }
            }
        }
        return ideal;
    }

private:
    /// The i-th ear of all of them at its best; `path` of one disturber, by band.
    Ear best_ear(std::size_t i) const {
        const std::size_t bands = problem_.bands.size();
        Ear best = problem_.ears[family_.ears.front()[i]];
        best.signal.assign(bands, 0);
        best.close.assign(bands, 0);
        best.path.assign(bands, INFINITY);
        for (std::size_t m = 0; m < family_.stations.size(); ++m) {
            const auto& ear = problem_.ears[family_.ears[m][i]];
            const auto& powers = problem_.stations[family_.stations[m]].powers;
            for (std::size_t band = 0; band < bands; ++band) {
                best.signal[band] = std::max(best.signal[band],
                                             ear.signal[band] * *std::ranges::max_element(powers));
                best.close[band] =
                    std::max(best.close[band], ear.close[band] / *std::ranges::min_element(powers));
                best.path[band] = std::min(best.path[band], least_path(ear, m, band));
            }
        }
        return best;
    }
    double least_path(const Ear& ear, std::size_t member, std::size_t band) const {
        double least = INFINITY;
        for (std::size_t x = 0; x < family_.stations.size(); ++x) {
            const auto s = family_.stations[x];
            if (x == member) continue;
            least = std::min(least, ear.path[problem_.seat(s, band)] *
                                        *std::ranges::min_element(problem_.stations[s].powers));
        }
        return least;
    }

    const Problem& problem_;
    const Family& family_;
    Station twin_;
    std::vector<Ear> ears_;
};

}  // namespace

std::size_t groups_by_capacity(const Problem& problem, double target_db, Patience& patience) {
    std::size_t most = 1;
    for (const auto& family : families(problem)) {
        const std::size_t size = family.stations.size();
        if (size < 2) continue;
        const Ideal ideal(problem, family);
        for (std::size_t count = 2; count <= size && (size + count - 2) / (count - 1) > most;
             ++count) {
            const auto twins = ideal.of(count);
            Tree tree(twins);
            const auto any = [](const Choice&) { return true; };
            if (tree.search(tree.all(), target_db, any, patience)) continue;
            if (!patience.is_over) most = (size + count - 2) / (count - 1);
            break;
        }
    }
    return most;
}

}  // namespace fieldpeg::planner
