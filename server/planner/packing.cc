#include "server/planner/packing.h"

#include <algorithm>
#include <bit>
#include <cmath>

namespace fieldpeg::planner {
namespace {

/// Bounds on one station's signal and on what others bring, whatever is chosen.
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

/// Whether a station's goals reach the target with another so far off, and all others as far as the
/// band is wide if there is one band and one group, best powers taken.
bool stands(const Problem& problem, std::size_t station, std::size_t other, double target,
            std::int64_t distance, std::int64_t farthest) {
    const auto hears = [&](const Ear& ear) {
        const auto& profile = problem.profiles[ear.profile];
        double arrives = 0, leak = 0;
        for (std::size_t x = 0; x < problem.stations.size(); ++x) {
            if (x == station || (problem.groups > 1 && x != other)) continue;
            const double power = least_arriving(problem, ear, x);
            arrives += power;
            if (x == other || problem.bands.size() == 1)
                leak += power *
                        profile.leak[problem.stations[x].kind](x == other ? distance : farthest);
        }
        return arrives * target <= profile.stand &&
               most_signal(problem, ear) * squeeze(arrives / profile.knee) >=
                   target * (profile.noise + leak);
    };
    return std::ranges::all_of(problem.goals, [&](const Goal& goal) {
        return problem.ears[goal.front()].station != station ||
               std::ranges::any_of(goal, [&](std::size_t e) { return hears(problem.ears[e]); });
    });
}

}  // namespace

std::int64_t Packing::least_spacing(const Problem& problem, std::size_t a, std::size_t b,
                                    double target, std::int64_t farthest) {
    const auto both = [&](std::int64_t distance) {
        return stands(problem, a, b, target, distance, farthest) &&
               stands(problem, b, a, target, distance, farthest);
    };
    if (both(0)) return -1;
    if (!both(farthest)) return INT64_MAX;
    std::int64_t low = 0, high = farthest;  // fails at low, stands at high
    while (high - low > 1) {
        const std::int64_t middle = low + (high - low) / 2;
        (both(middle) ? high : low) = middle;
    }
    return high;
}

Packing::Packing(const Problem& problem) : problem_(problem), beyond_(problem.bands.size()) {
    for (const auto& band : problem.bands)
        if (!band.empty()) widest_ = std::max(widest_, band.back() - band.front());
}

void Packing::set_target_db(double target_db) {
    const double target = std::pow(10, target_db / 10);
    spacing_ = widest_ + 1;
    const std::size_t n = problem_.stations.size();
    for (std::size_t a = 0; a < n && spacing_ > 0; ++a)
        for (std::size_t b = a + 1; b < n && spacing_ > 0; ++b)
            spacing_ = std::min(spacing_, least_spacing(problem_, a, b, target, widest_));
    for (std::size_t band = 0; band < problem_.bands.size(); ++band) {
        const auto& steps = problem_.bands[band];
        for (std::size_t c = 0; c < steps.size(); ++c) {
            beyond_[band][c] = 0;
            for (std::size_t d = c + 1; d < steps.size(); ++d)
                if (steps[d] - steps[c] >= spacing_) beyond_[band][c] |= std::uint64_t{1} << d;
        }
    }
}

bool Packing::has_room(const Words& words, const Domains& domains, const Field& field) const {
    if (spacing_ <= 0) return true;
    const std::size_t bands = problem_.bands.size();
    std::vector<std::uint64_t> open(problem_.groups * bands);
    std::size_t waiting = 0;
    for (std::size_t s = 0; s < problem_.stations.size(); ++s) {
        if (field.is_put(s)) continue;
        ++waiting;
        domains.for_each(words, s, [&](const Pick& pick, std::uint64_t word) {
            open[pick.group * bands + pick.band] |= word;
        });
    }
    std::size_t places = 0;
    for (std::size_t i = 0; i < open.size() && places < waiting; ++i)
        for (auto word = open[i]; word != 0; ++places)
            word &= beyond_[i % bands][static_cast<std::size_t>(std::countr_zero(word))];
    return places >= waiting;
}

}  // namespace fieldpeg::planner
