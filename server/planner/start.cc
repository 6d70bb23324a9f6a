#include "server/planner/start.h"

#include <algorithm>
#include <cmath>
#include <functional>
#include <numeric>

namespace fieldpeg::planner {

Start::Start(const Problem& problem, const LevelTables& levels, std::uint64_t seed)
    : problem_(problem), levels_(levels), state_(seed) {
    goals_of_.resize(problem.stations.size());
    for (std::size_t g = 0; g < problem.goals.size(); ++g) {
        station_of_.push_back(problem.ears[problem.goals[g].front()].station);
        goals_of_[station_of_[g]].push_back(g);
    }
    reset();
}

void Start::reset() {
    at_.assign(problem_.stations.size(), {});
    is_put_.assign(problem_.stations.size(), false);
    leak_.assign(problem_.ears.size(), 0);
    others_.assign(problem_.ears.size(), 0);
}

double Start::power(std::size_t e, std::size_t s, const Pick& pick) const {
    const auto& ear = problem_.ears[e];
    return problem_.stations[s].powers[pick.power] * ear.path[problem_.seat(s, pick.band)] *
           static_cast<double>(levels_.front(ear.profile, pick.band)[pick.channel]);
}

/// What leaks from a station into an ear tuned to its own station's pick.
double Start::leak(std::size_t e, std::size_t s, const Pick& pick, const Pick& own) const {
    const auto& ear = problem_.ears[e];
    return power(e, s, pick) *
           static_cast<double>(levels_.leak(ear.profile, problem_.stations[s].kind, own.band,
                                            pick.band, pick.channel)[own.channel]);
}

/// Adds a station to all sums, or with sign -1 takes it out; its own ears are summed anew.
void Start::put(std::size_t s, const Pick& pick, double sign) {
    if (sign > 0) at_[s] = pick;
    is_put_[s] = sign > 0;
    for (std::size_t e = 0; e < problem_.ears.size(); ++e) {
        const auto own = problem_.ears[e].station;
        if (own == s) {
            leak_[e] = others_[e] = 0;
            for (std::size_t x = 0; x < at_.size() && sign > 0; ++x) {
                if (x == s || !is_put_[x] || at_[x].group != pick.group) continue;
                leak_[e] += leak(e, x, at_[x], pick);
                others_[e] += power(e, x, at_[x]);
            }
        } else if (is_put_[own] && at_[own].group == pick.group) {
            leak_[e] += sign * leak(e, s, pick, at_[own]);
            others_[e] += sign * power(e, s, pick);
        }
    }
}

double Start::margin(std::size_t e, const Pick& own, double sum, double others) const {
    const auto& ear = problem_.ears[e];
    const auto& profile = problem_.profiles[ear.profile];
    const double sent = problem_.stations[ear.station].powers[own.power] *
                        static_cast<double>(levels_.front(ear.profile, own.band)[own.channel]);
    return std::min(ear.signal[own.band] * sent * desensitisation(others / profile.blocking) /
                        (profile.noise + sum),
                    ear.close[own.band] / sent);
}

/// A goal's margin if a station that is not its own were moved.
double Start::ratio(std::size_t g, std::size_t moved, const Pick* to) const {
    const auto& own = at_[station_of_[g]];
    double best = 0;
    for (const auto e : problem_.goals[g]) {
        double sum = leak_[e], others = others_[e];
        if (to != nullptr && to->group == own.group) {
            sum += leak(e, moved, *to, own);
            others += power(e, moved, *to);
        }
        best = std::max(best, margin(e, own, std::max(sum, 0.0), std::max(others, 0.0)));
    }
    return best;
}

/// The sum of shortfalls of its own goals if a station were put.
double Start::own_shortfall(std::size_t s, const Pick& pick) const {
    double total = 0;
    for (const auto g : goals_of_[s]) {
        double best = 0;
        for (const auto e : problem_.goals[g]) {
            double sum = 0, others = 0;
            for (std::size_t x = 0; x < at_.size(); ++x) {
                if (x == s || !is_put_[x] || at_[x].group != pick.group) continue;
                sum += leak(e, x, at_[x], pick);
                others += power(e, x, at_[x]);
            }
            best = std::max(best, margin(e, pick, sum, others));
        }
        total += shortfall(best);
    }
    return total;
}

/// The shortfall of every goal as things stand; 0 of those who are out.
std::vector<double> Start::shortfalls() const {
    std::vector<double> all(problem_.goals.size(), 0);
    for (std::size_t g = 0; g < all.size(); ++g)
        if (is_put_[station_of_[g]]) all[g] = shortfall(ratio(g, SIZE_MAX, nullptr));
    return all;
}

/// By how much others' shortfalls grow if a station that is out were put.
double Start::harm(std::size_t s, const Pick& pick, const std::vector<double>& now) const {
    double sum = 0;
    for (std::size_t g = 0; g < problem_.goals.size(); ++g) {
        const auto own = station_of_[g];
        if (own == s || !is_put_[own] || at_[own].group != pick.group) continue;
        sum += shortfall(ratio(g, s, &pick)) - now[g];
    }
    return sum;
}

bool Start::is_allowed(std::size_t s, std::size_t group) const {
    if (group < 64 && (problem_.stations[s].groups >> group & 1) == 0) return false;
    if (is_full(s, group)) return false;
    const auto clashes = [&](const auto& pair, bool together) {
        const auto other = pair.first == s ? pair.second : pair.first;
        return (pair.first == s || pair.second == s) && is_put_[other] &&
               (at_[other].group == group) != together;
    };
    return std::ranges::none_of(problem_.apart, [&](const auto& p) { return clashes(p, false); }) &&
           std::ranges::none_of(problem_.together, [&](const auto& p) { return clashes(p, true); });
}

/// Whether a group has as many as it may, or as it would if all were alike.
bool Start::is_full(std::size_t s, std::size_t group) const {
    const auto& [is_head, most, spread, kept, changes] = problem_.roster;
    if (is_head.empty() || !is_head[s]) return false;
    std::size_t in_it = 0, heads = 0;
    for (std::size_t x = 0; x < is_head.size(); ++x) {
        if (!is_head[x]) continue;
        ++heads;
        if (is_put_[x] && at_[x].group == group) ++in_it;
    }
    const std::size_t even = (heads + problem_.groups - 1) / problem_.groups;
    return in_it >= (spread <= 1 ? std::min(most, even) : most);
}

/// Whether somebody who is put takes other channels from a station.
bool Start::is_elsewhere(std::size_t s, const Pick& pick) const {
    return std::ranges::any_of(problem_.same, [&](const auto& pair) {
        const auto other = pair.first == s ? pair.second : pair.first;
        if ((pair.first != s && pair.second != s) || !is_put_[other]) return false;
        const auto& at = at_[other];
        return at.band != pick.band || at.channel != pick.channel || at.power != pick.power;
    });
}

std::vector<Pick> Start::picks_of(std::size_t s) const {
    std::vector<Pick> picks;
    const auto& station = problem_.stations[s];
    for (std::size_t group = 0; group < problem_.groups; ++group) {
        if (!is_allowed(s, group)) continue;
        for (std::size_t band = 0; band < problem_.bands.size(); ++band)
            for (std::size_t c = 0; c < problem_.bands[band].size(); ++c)
                for (std::size_t p = 0; p < station.powers.size(); ++p)
                    if ((station.channels[band] >> c & 1) != 0 &&
                        !is_elsewhere(s, {group, band, c, p}))
                        picks.push_back({group, band, c, p});
    }
    return picks;
}

/// Where a station that is out costs least; `otherwise` if all is forbidden.
Pick Start::best_for(std::size_t s, const Pick& otherwise) const {
    Pick best = otherwise;
    double least = INFINITY;
    const auto now = shortfalls();
    for (const auto& pick : picks_of(s)) {
        const double cost = harm(s, pick, now) + own_shortfall(s, pick);
        if (cost >= least) continue;
        least = cost;
        best = pick;
    }
    return best;
}

Choice Start::greedy() {
    reset();
    std::vector<std::size_t> order(at_.size());
    std::iota(order.begin(), order.end(), std::size_t{0});
    std::ranges::stable_sort(order, std::greater<>{}, [&](std::size_t s) {
        return *std::ranges::max_element(problem_.stations[s].powers);
    });
    for (const auto s : order)
        put(s, best_for(s, picks_of(s).empty() ? Pick{} : picks_of(s).front()), 1);
    return at_;
}

double Start::worst() const {
    double least = INFINITY;
    for (std::size_t g = 0; g < problem_.goals.size(); ++g)
        least = std::min(least, ratio(g, SIZE_MAX, nullptr));
    return least;
}

/// The worst off, or one who disturbs them most, if they do not rest; now and then anybody.
std::size_t Start::next_to_move(const std::vector<std::size_t>& rests_until, std::size_t move) {
    const std::size_t anybody = random() % at_.size();
    if (problem_.goals.empty() || random() % 8 == 0) return anybody;
    std::size_t worst_goal = 0;
    double least = INFINITY;
    for (std::size_t g = 0; g < problem_.goals.size(); ++g) {
        const double r = ratio(g, SIZE_MAX, nullptr);
        if (r < least) {
            least = r;
            worst_goal = g;
        }
    }
    const auto e = problem_.goals[worst_goal].front();
    const auto own = station_of_[worst_goal];
    if (rests_until[own] <= move && random() % 2 == 0) return own;
    std::size_t chosen = own;
    double most = 0;
    for (std::size_t x = 0; x < at_.size(); ++x) {
        if (x == own || at_[x].group != at_[own].group || rests_until[x] > move) continue;
        const double its = leak(e, x, at_[x], at_[own]);
        if (its > most) {
            most = its;
            chosen = x;
        }
    }
    return rests_until[chosen] <= move ? chosen : anybody;
}

/// Somebody with whom a station may change places, full groups or not; itself if there is nobody.
std::size_t Start::in_another_group(std::size_t s) {
    if (problem_.groups == 1) return s;
    const auto first = random() % at_.size();
    for (std::size_t i = 0; i < at_.size(); ++i) {
        const auto other = (first + i) % at_.size();
        if (at_[other].group != at_[s].group && problem_.stations[other].groups != 1) return other;
    }
    return s;
}

Choice Start::improve(Choice from, std::size_t moves, const std::function<bool()>& stop) {
    reset();
    for (std::size_t s = 0; s < from.size(); ++s) put(s, from[s], 1);
    Choice best = from;
    double best_worst = worst();
    std::vector<std::size_t> rests_until(at_.size(), 0);
    for (std::size_t move = 0; move < moves && !at_.empty() && !stop(); ++move) {
        const auto s = next_to_move(rests_until, move);
        const auto rest = [&] { return move + 2 + random() % (2 + at_.size() / 4); };
        const auto other = random() % 2 == 0 ? in_another_group(s) : s;
        const Pick was = at_[s], was_other = at_[other];
        put(s, was, -1);
        if (other != s) put(other, was_other, -1);
        put(s, best_for(s, was), 1);
        rests_until[s] = rest();
        if (other != s) {
            put(other, best_for(other, was_other), 1);
            rests_until[other] = rest();
        }
        if (const double now = worst(); now > best_worst) {
            best_worst = now;
            best = at_;
        }
    }
    return best;
}

/// xorshift: the same on every machine.
std::uint64_t Start::random() {
    state_ ^= state_ << 13;
    state_ ^= state_ >> 7;
    state_ ^= state_ << 17;
    return state_;
}

}  // namespace fieldpeg::planner
