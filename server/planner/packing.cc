#include "server/planner/packing.h"

#include <algorithm>
#include <bit>
#include <cmath>
#include <numeric>

namespace fieldpeg::planner {
namespace {

/// What stations bring to an ear at least, whatever is chosen.
double least_arriving(const Problem& problem, const Ear& ear, std::size_t other) {
    const auto& o = problem.stations[other];
    const auto& profile = problem.profiles[ear.profile];
    double path = INFINITY;
    for (std::size_t band = 0; band < problem.bands.size(); ++band) {
        const auto& steps = problem.bands[band];
        if (o.channels[band] != 0)  // the front end lets least through at an end of the band
            path = std::min(path, ear.path[problem.seat(other, band)] *
                                      std::min(problem.front(profile, steps.front()),
                                               problem.front(profile, steps.back())));
    }
    return path * *std::ranges::min_element(o.powers);
}

double most_signal(const Problem& problem, const Ear& ear) {
    const auto& s = problem.stations[ear.station];
    double signal = 0;
    for (std::size_t band = 0; band < problem.bands.size(); ++band)
        if (s.channels[band] != 0) signal = std::max(signal, ear.signal[band]);
    return signal * *std::ranges::max_element(s.powers);
}

/// The distance of the channels farthest from each other.
std::int64_t widest(const Problem& problem) {
    std::int64_t lowest = INT64_MAX, highest = INT64_MIN;
    for (const auto& band : problem.bands) {
        lowest = std::min(lowest, band.front());
        highest = std::max(highest, band.back());
    }
    return highest - lowest;
}

/// One ear against one other after the other.
class Neighbours {
public:
    Neighbours(const Problem& problem, const Ear& ear, double target)
        : profile_(problem.profiles[ear.profile]),
          problem_(problem),
          target_(target),
          farthest_(widest(problem)),
          signal_(most_signal(problem, ear)) {
        for (std::size_t x = 0; x < problem.stations.size(); ++x) {
            arriving_.push_back(x == ear.station ? 0 : least_arriving(problem, ear, x));
            if (problem.groups > 1 || x == ear.station) continue;
            others_ += arriving_[x];
            if (problem.bands.size() == 1) leak_ += arriving_[x] * far(x);
        }
    }

    /// The least distance at which the target is reached.
    std::int64_t spacing(std::size_t x) const {
        const bool counted = problem_.groups == 1;
        const double power = others_ + (counted ? 0 : arriving_[x]);
        const double least =
            leak_ - (counted && problem_.bands.size() == 1 ? arriving_[x] * far(x) : 0);
        const double room =
            signal_ * desensitisation(power / profile_.blocking) / target_ - profile_.noise - least;
        const auto stands = [&](std::int64_t distance) {
            return arriving_[x] * profile_.leak[problem_.stations[x].kind](distance) <= room;
        };
        if (stands(0)) return 0;
        if (!stands(farthest_)) return Spacings::never;
        std::int64_t low = 0, high = farthest_;  // fails at low, stands at high
        while (high - low > 1) {
            const std::int64_t middle = low + (high - low) / 2;
            (stands(middle) ? high : low) = middle;
        }
        return high;
    }

private:
    double far(std::size_t x) const { return profile_.leak[problem_.stations[x].kind](farthest_); }

    const Profile& profile_;
    const Problem& problem_;
    double target_;
    std::int64_t farthest_;
    double signal_;
    std::vector<double> arriving_;
    double others_ = 0;
    double leak_ = 0;
};

}  // namespace

Spacings::Spacings(const Problem& problem, double target_db)
    : size_(problem.stations.size()), steps_(size_ * size_, 0) {
    for (std::size_t g = 0; g < problem.goals.size(); ++g) {
        const auto& goal = problem.goals[g];
        const double target =
            std::pow(10, (problem.demand_db(g, target_db) - Interference::rounding_db) / 10);
        const std::size_t own = problem.ears[goal.front()].station;
        std::vector<std::int64_t> least(size_, never);  // the best ear counts
        for (const auto e : goal) {
            const Neighbours neighbours(problem, problem.ears[e], target);
            for (std::size_t x = 0; x < size_; ++x)
                if (x != own) least[x] = std::min(least[x], neighbours.spacing(x));
        }
        for (std::size_t x = 0; x < size_; ++x) {
            if (x == own) continue;
            const std::int64_t steps = std::max(least[x], between(own, x));
            steps_[own * size_ + x] = steps_[x * size_ + own] = steps;
        }
    }
}

void Packing::set_target_db(double target_db) {
    cliques_.clear();
    const Spacings spacings(problem_, target_db);
    const std::size_t n = problem_.stations.size();
    std::vector<std::int64_t> all;
    for (std::size_t a = 0; a < n; ++a)
        for (std::size_t b = a + 1; b < n; ++b)
            if (spacings.between(a, b) > 0) all.push_back(spacings.between(a, b));
    std::ranges::sort(all);
    // The more must keep apart, the less far the nearest of them: both kinds are looked at.
    for (std::size_t quarter = 0; quarter < 4 && !all.empty(); ++quarter)
        for (std::size_t s = 0; s < n && cliques_.size() < cliques_max * (quarter + 1) / 4; ++s)
            add_clique(spacings, s, all[quarter * (all.size() - 1) / 3]);
}

/// A clique of those who pairwise keep at least so far apart, the farthest from the first one
/// first.
void Packing::add_clique(const Spacings& spacings, std::size_t first, std::int64_t least) {
    std::vector<std::size_t> others(problem_.stations.size());
    std::iota(others.begin(), others.end(), std::size_t{0});
    std::ranges::stable_sort(others, std::greater<>{}, [&](std::size_t s) {
        return s == first ? Spacings::never : spacings.between(first, s);
    });
    Clique clique{{first}, {}};
    std::int64_t nearest = Spacings::never;
    for (const auto s : others) {
        if (s == first) continue;
        const auto near = [&](std::size_t t) { return spacings.between(s, t) < least; };
        if (std::ranges::any_of(clique.stations, near)) continue;
        for (const auto t : clique.stations) nearest = std::min(nearest, spacings.between(s, t));
        clique.stations.push_back(s);
    }
    std::ranges::sort(clique.stations);
    if (clique.stations.size() < 3 || std::ranges::any_of(cliques_, [&](const Clique& known) {
            return known.stations == clique.stations;
        }))
        return;
    for (const auto& steps : problem_.bands) {
        auto& beyond = clique.beyond.emplace_back();
        beyond.fill(0);
        for (std::size_t c = 0; c < steps.size(); ++c)
            for (std::size_t d = c + 1; d < steps.size(); ++d)
                if (steps[d] - steps[c] >= nearest) beyond[c] |= std::uint64_t{1} << d;
    }
    cliques_.push_back(std::move(clique));
}

bool Packing::has_room(const Words& words, const Domains& domains,
                       const Interference& interference) {
    return std::ranges::all_of(cliques_, [&](const Clique& clique) {
        return has_room(clique, words, domains, interference);
    });
}

bool Packing::has_room(const Clique& clique, const Words& words, const Domains& domains,
                       const Interference& interference) {
    const std::size_t bands = problem_.bands.size();
    open_.assign(problem_.groups * bands, 0);
    std::size_t waiting = 0;
    for (const auto s : clique.stations) {
        if (interference.is_put(s)) continue;
        ++waiting;
        domains.for_each(words, s, [&](const Pick& pick, std::uint64_t word) {
            open_[pick.group * bands + pick.band] |= word;
        });
    }
    std::size_t places = 0;
    for (std::size_t i = 0; i < open_.size() && places < waiting; ++i)
        for (auto word = open_[i]; word != 0; ++places)
            word &= clique.beyond[i % bands][static_cast<std::size_t>(std::countr_zero(word))];
    return places >= waiting;
}

}  // namespace fieldpeg::planner
