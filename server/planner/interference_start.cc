#include "server/planner/interference.h"

#include <algorithm>
#include <cmath>

namespace fieldpeg::planner {
namespace {

/// A product is left out if it is weaker than this share of the noise, divided by the number of
/// stations. Leaving out makes bounds weaker, not wrong; most products matter to nobody, and
/// whoever finds a choice reckons with them all.
constexpr double negligible_share = 0.01;

/// Where more fly in a group, all products are left out: they are too many to form at each node.
constexpr std::size_t stations_with_products_max = 48;

double least_power(const Problem& problem, const Ear& ear, std::size_t s) {
    const auto& station = problem.stations[s];
    const auto& profile = problem.profiles[ear.profile];
    double least = INFINITY;
    for (std::size_t band = 0; band < problem.bands.size(); ++band)
        for (std::size_t c = 0; c < problem.bands[band].size(); ++c)
            if ((station.channels[band] >> c & 1) != 0)
                least = std::min(least, ear.path[problem.seat(s, band)] *
                                            problem.front(profile, problem.bands[band][c]));
    return least * *std::ranges::min_element(station.powers);
}

/// The most that each station radiates of products with any other.
std::vector<double> most_made(const Problem& problem) {
    std::vector<double> most(problem.stations.size(), 0);
    for (std::size_t host = 0; host < most.size(); ++host)
        for (std::size_t other = 0; other < most.size(); ++other)
            for (std::size_t band = 0; band < problem.bands.size(); ++band)
                if (other != host && problem.stations[other].channels[band] != 0)
                    most[host] = std::max(
                        most[host], problem.made_by(host, other, band) *
                                        *std::ranges::max_element(problem.stations[other].powers));
    return most;
}

double most_path(const Problem& problem, const Ear& ear, std::size_t s) {
    double most = 0;
    for (std::size_t band = 0; band < problem.bands.size(); ++band)
        if (problem.stations[s].channels[band] != 0)
            most = std::max(most, ear.path[problem.seat(s, band)]);
    return most;
}

}  // namespace

Interference::Interference(const Problem& problem, LevelTables& levels)
    : problem_(problem),
      levels_(levels),
      negligible_(negligible_share / static_cast<double>(problem.stations.size())),
      goals_of_(problem.stations.size()),
      slice_(problem.ears.size() * problem.groups * problem.bands.size(), no_slice),
      target_(problem.ears.size(), 1),
      heard_(problem.ears.size()),
      left_(problem.ears.size()),
      blockers_(problem.ears.size() * problem.groups),
      least_(problem.ears.size() * problem.stations.size()),
      arriving_(least_.size()),
      picks_(problem.stations.size()),
      members_(problem.groups),
      trail_(problem.stations.size()) {
    for (std::size_t g = 0; g < problem.goals.size(); ++g)
        goals_of_[problem.ears[problem.goals[g].front()].station].push_back(g);
    for (std::size_t s = 0; s < problem.stations.size(); ++s) only_band_.push_back(only_band(s));
    const auto radiated = most_made(problem);
    for (std::size_t e = 0; e < problem.ears.size(); ++e) {
        count_least_power(e);
        see_which_products_matter(e, radiated);
        add_slices(e);
    }
}

/// What an ear gets from everybody at least, which is sure only where there is but one group.
void Interference::count_least_power(std::size_t e) {
    const auto& ear = problem_.ears[e];
    if (problem_.groups > 1) return;
    for (std::size_t s = 0; s < problem_.stations.size(); ++s) {
        if (s == ear.station) continue;
        const double power = least_power(problem_, ear, s);
        least_[e * problem_.stations.size() + s] = power;
        blockers_[e] += power;
    }
}

void Interference::see_which_products_matter(std::size_t e, const std::vector<double>& radiated) {
    const auto& ear = problem_.ears[e];
    const auto& profile = problem_.profiles[ear.profile];
    double most = 0, made = 0, made_in_own = 0;
    for (std::size_t s = 0; s < problem_.stations.size(); ++s) {
        const double path = most_path(problem_, ear, s);
        auto& strongest = s == ear.station ? made_in_own : made;
        strongest = std::max(strongest, radiated[s] * path);
        if (s != ear.station)
            most = std::max(most, path * *std::ranges::max_element(problem_.stations[s].powers));
    }
    const bool few = problem_.stations.size() <= stations_with_products_max * problem_.groups;
    const double cubed = std::max(problem_.triple_gain, 2.0) * most * most * most;
    const double received = cubed / (profile.iip3 * profile.iip3);
    const double negligible = negligible_ * profile.noise;
    own_makes_.push_back(few && made_in_own > negligible);
    products_matter_.push_back(few && std::max(received, made) > negligible);
    any_product_matters_ = any_product_matters_ || products_matter_.back();
}

void Interference::add_slices(std::size_t e) {
    for (std::size_t group = 0; group < problem_.groups; ++group)
        for (std::size_t band = 0; band < problem_.bands.size(); ++band) {
            if (problem_.stations[problem_.ears[e].station].channels[band] == 0) continue;
            slice_[slot(e, group, band)] = static_cast<std::uint32_t>(slices_.size());
            slices_.push_back({});
            for (std::size_t s = 0; s < problem_.stations.size(); ++s)
                add_least(e, band, s, slices_.back());
        }
}

/// The band of a station that is sure to be heard, nobody being in another group.
std::optional<std::size_t> Interference::only_band(std::size_t station) const {
    const auto& channels = problem_.stations[station].channels;
    const auto is_open = [](std::uint64_t word) { return word != 0; };
    if (problem_.groups > 1 || std::ranges::count_if(channels, is_open) != 1) return std::nullopt;
    return static_cast<std::size_t>(std::ranges::find_if(channels, is_open) - channels.begin());
}

/// What an ear suffers from a station at least, before it is put.
void Interference::add_least(std::size_t e, std::size_t band, std::size_t station,
                             Levels& level) const {
    const auto& ear = problem_.ears[e];
    const auto from = only_band_[station];
    if (station == ear.station || !from) return;
    const auto weight = static_cast<float>(least_[e * problem_.stations.size() + station] /
                                           problem_.profiles[ear.profile].noise);
    const Levels& least =
        levels_.least_leak(ear.profile, problem_.stations[station].kind, band, *from);
    for (std::size_t c = 0; c < band_size_max; ++c) level[c] += weight * least[c];
}

float Interference::least_at(std::size_t e, std::size_t station) const {
    const auto& ear = problem_.ears[e];
    const auto from = only_band_[station];
    const auto& at = *picks_[ear.station];
    if (!from) return 0;
    return static_cast<float>(least_[e * problem_.stations.size() + station] /
                              problem_.profiles[ear.profile].noise) *
           levels_.least_leak(ear.profile, problem_.stations[station].kind, at.band,
                              *from)[at.channel];
}

}  // namespace fieldpeg::planner
