#include "server/planner/field.h"

#include <algorithm>
#include <array>
#include <bit>
#include <cmath>
#include <cstdlib>
#include <cstring>
#include <numeric>
#include <utility>

namespace fieldpeg::planner {
namespace {

/// A product is left out if it is weaker than this share of the noise, divided by the number of
/// stations. Leaving out makes bounds weaker, not wrong; most products matter to nobody, and
/// whoever finds a choice reckons with them all.
constexpr double negligible_share = 0.01;

/// Where more fly in a group, all products are left out: they are too many to form at each node.
constexpr std::size_t stations_with_products_max = 48;

/// The channels, out of some, for which test(channel) holds: a few one by one, many side by side.
template <class Test>
std::uint64_t mask(std::uint64_t channels, Test test) {
    constexpr int few = 10;
    if (std::popcount(channels) <= few) {
        for (auto open = channels; open != 0; open &= open - 1)
            if (!test(static_cast<std::size_t>(std::countr_zero(open))))
                channels &= ~(open & -open);
        return channels;
    }
    std::array<std::uint32_t, band_size_max> holds;
    for (std::size_t c = 0; c < band_size_max; ++c) holds[c] = test(c) ? 1U << (c % 32) : 0;
    std::uint32_t low = 0, high = 0;
    for (std::size_t c = 0; c < 32; ++c) low |= holds[c];
    for (std::size_t c = 32; c < 64; ++c) high |= holds[c];
    return channels & (std::uint64_t{high} << 32 | low);
}

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

Field::Field(const Problem& problem, Rows& rows)
    : problem_(problem), rows_(rows),
      negligible_(negligible_share / static_cast<double>(problem.stations.size())), goals_of_(problem.stations.size()),
      slice_(problem.ears.size() * problem.groups * problem.bands.size(), no_slice),
      target_(problem.ears.size(), 1), heard_(problem.ears.size()), left_(problem.ears.size()), blockers_(problem.ears.size() * problem.groups),
      least_(problem.ears.size() * problem.stations.size()), arriving_(least_.size()),
      picks_(problem.stations.size()), members_(problem.groups), trail_(problem.stations.size()) {
    const std::size_t n = problem.stations.size();
    for (std::size_t g = 0; g < problem.goals.size(); ++g)
        goals_of_[problem.ears[problem.goals[g].front()].station].push_back(g);
    const auto radiated = most_made(problem);
    const bool few = n <= stations_with_products_max * problem.groups;
    for (std::size_t s = 0; s < n; ++s) only_band_.push_back(only_band(s));
    for (std::size_t e = 0; e < problem.ears.size(); ++e) {
        const auto& ear = problem.ears[e];
        const auto& profile = problem.profiles[ear.profile];
        double most = 0, made = 0, made_in_own = 0;
        for (std::size_t s = 0; s < n; ++s) {
            auto& strongest = s == ear.station ? made_in_own : made;
            strongest = std::max(strongest, radiated[s] * most_path(problem, ear, s));
            if (s == ear.station) continue;
            most = std::max(most, most_path(problem, ear, s) *
                                      *std::ranges::max_element(problem.stations[s].powers));
            if (problem.groups == 1) least_[e * n + s] = least_power(problem, ear, s);
            blockers_[e * problem.groups] += least_[e * n + s];
        }
        const double received =
            std::max(problem.triple_gain, 2.0) * most * most * most / (profile.knee * profile.knee);
        products_matter_.push_back(few &&
                                   std::max(received, made) > negligible_ * profile.noise);
        any_product_matters_ = any_product_matters_ || products_matter_.back();
        own_makes_.push_back(few && made_in_own > negligible_ * profile.noise);
        for (std::size_t slot_ = 0; slot_ < problem.groups * problem.bands.size(); ++slot_) {
            const std::size_t band = slot_ % problem.bands.size();
            if (problem.stations[ear.station].channels[band] == 0) continue;
            slice_[e * problem.groups * problem.bands.size() + slot_] =
                static_cast<std::uint32_t>(slices_.size());
            slices_.push_back({});
            for (std::size_t s = 0; s < n; ++s) add_least(e, band, s, slices_.back());
        }
    }
}

/// The band of a station that is sure to be heard, nobody being in another group.
std::optional<std::size_t> Field::only_band(std::size_t station) const {
    const auto& channels = problem_.stations[station].channels;
    const auto is_open = [](std::uint64_t word) { return word != 0; };
    if (problem_.groups > 1 || std::ranges::count_if(channels, is_open) != 1) return std::nullopt;
    return static_cast<std::size_t>(std::ranges::find_if(channels, is_open) - channels.begin());
}

/// What an ear suffers from a station at least, before it is put.
void Field::add_least(std::size_t e, std::size_t band, std::size_t station, Row& level) const {
    const auto& ear = problem_.ears[e];
    const auto from = only_band_[station];
    if (station == ear.station || !from) return;
    const auto weight = static_cast<float>(least_[e * problem_.stations.size() + station] /
                                           problem_.profiles[ear.profile].noise);
    const Row& least =
        rows_.least_leak(ear.profile, problem_.stations[station].kind, band, *from);
    for (std::size_t c = 0; c < band_size_max; ++c) level[c] += weight * least[c];
}

float Field::least_at(std::size_t e, std::size_t station) const {
    const auto& ear = problem_.ears[e];
    const auto from = only_band_[station];
    const auto& at = *picks_[ear.station];
    if (!from) return 0;
    return static_cast<float>(least_[e * problem_.stations.size() + station] /
                              problem_.profiles[ear.profile].noise) *
           rows_.least_leak(ear.profile, problem_.stations[station].kind, at.band,
                            *from)[at.channel];
}

void Field::set_target_db(double target_db) {
    for (std::size_t g = 0; g < problem_.goals.size(); ++g)
        for (const auto e : problem_.goals[g])
            target_[e] = std::pow(10, (problem_.demand_db(g, target_db) - rounding_db) / 10);
}

std::int64_t Field::step(std::size_t s) const {
    return problem_.bands[picks_[s]->band][picks_[s]->channel];
}

bool Field::put(std::size_t station, const Pick& pick) {
    auto& mark = trail_[count_++];
    mark.station = station;
    mark.slices = slices_.size();
    mark.replaced.clear();
    mark.heard = heard_;
    mark.left = left_;
    mark.blockers = blockers_;
    picks_[station] = pick;
    products_.clear();
    if (any_product_matters_) find_products_with(station);
    members_[pick.group].push_back(station);
    for (std::size_t e = 0; e < problem_.ears.size(); ++e) {
        const auto own = problem_.ears[e].station;
        if (own == station)
            heard_[e] = slices_[slice_[slot(e, pick.group, pick.band)]][pick.channel];
        else if (!picks_[own] || picks_[own]->group == pick.group)
            add_power(e, station);
    }
    if (!all_fit(pick.group)) return false;
    for (std::size_t e = 0; e < problem_.ears.size(); ++e)
        if (!picks_[problem_.ears[e].station]) add_to_rows(e, station);
    return true;
}

/// Power that gets into an ear, and interference where its station has been put.
void Field::add_power(std::size_t e, std::size_t station) {
    const auto& ear = problem_.ears[e];
    const auto& pick = *picks_[station];
    const auto& profile = problem_.profiles[ear.profile];
    const std::size_t at = e * problem_.stations.size() + station;
    arriving_[at] = problem_.stations[station].powers[pick.power] *
                    ear.path[problem_.seat(station, pick.band)] *
                    problem_.front(profile, problem_.bands[pick.band][pick.channel]);
    blockers_[e * problem_.groups + pick.group] += arriving_[at] - least_[at];
    if (picks_[ear.station]) heard_[e] += added_at(e, station);
}

void Field::add_to_rows(std::size_t e, std::size_t station) {
    for (std::size_t band = 0; band < problem_.bands.size(); ++band) {
        const auto at = slot(e, picks_[station]->group, band);
        if (slice_[at] == no_slice) continue;
        trail_[count_ - 1].replaced.emplace_back(at, slice_[at]);
        slices_.push_back(slices_[slice_[at]]);
        slice_[at] = static_cast<std::uint32_t>(slices_.size() - 1);
        add_to_row(e, band, station, slices_.back());
    }
}

void Field::take_back() {
    auto& mark = trail_[--count_];
    members_[picks_[mark.station]->group].pop_back();
    picks_[mark.station].reset();
    for (const auto& [at, slice] : mark.replaced) slice_[at] = slice;
    slices_.resize(mark.slices);
    heard_.swap(mark.heard);
    left_.swap(mark.left);
    blockers_.swap(mark.blockers);
}

/// All products that a station forms with those of its group put before it.
void Field::find_products_with(std::size_t s) {
    const auto& others = members_[picks_[s]->group];
    const std::int64_t d = step(s);
    for (std::size_t i = 0; i < others.size(); ++i) {
        const std::size_t x = others[i];
        products_.push_back({s, x, Product::none, std::abs(2 * d - step(x))});
        products_.push_back({x, s, Product::none, std::abs(2 * step(x) - d)});
        for (std::size_t j = i + 1; j < others.size(); ++j) {
            const std::size_t y = others[j];
            products_.push_back({s, x, y, std::abs(d + step(x) - step(y))});
            products_.push_back({s, y, x, std::abs(d + step(y) - step(x))});
            products_.push_back({x, y, s, std::abs(step(x) + step(y) - d)});
        }
    }
}

/// Power of a product in an ear before its filter, the ear's own station taking no part in it but
/// as the host.
double Field::product_power(const Ear& ear, const Product& p) const {
    const auto& profile = problem_.profiles[ear.profile];
    const std::size_t n = problem_.stations.size();
    const double* arriving =
        &arriving_[static_cast<std::size_t>(&ear - problem_.ears.data()) * n];
    const auto own = ear.station;
    if (p.c != Product::none)
        return p.a == own || p.b == own || p.c == own
                   ? 0
                   : problem_.triple_gain * arriving[p.a] * arriving[p.b] * arriving[p.c] /
                         (profile.knee * profile.knee);
    if (p.b == own) return 0;
    double power = 0;
    if (p.a != own)
        power = problem_.pair_gain[problem_.stations[p.a].kind] * arriving[p.a] * arriving[p.a] *
                arriving[p.b] / (profile.knee * profile.knee);
    if (problem_.made.empty()) return power;
    return power + problem_.stations[p.b].powers[picks_[p.b]->power] *
                       problem_.made_by(p.a, p.b, picks_[p.b]->band) *
                       ear.path[problem_.seat(p.a, picks_[p.a]->band)] *
                       problem_.front(profile, p.step);
}

/// Calls add(weight in noises, row) for each product that matters.
template <class Add>
void Field::for_each_product(std::size_t e, std::size_t band, Add add) {
    if (!products_matter_[e]) return;
    const auto& ear = problem_.ears[e];
    const double noise = problem_.profiles[ear.profile].noise;
    const auto kind = [&](std::size_t s) { return problem_.stations[s].kind; };
    for (const auto& p : products_) {
        const double weight = product_power(ear, p) / noise;
        if (weight <= negligible_) continue;
        const auto* row = p.c == Product::none
                              ? rows_.product(ear.profile, kind(p.a), kind(p.b), band, p.step)
                              : rows_.product(ear.profile, kind(p.a), kind(p.b), kind(p.c), band,
                                              p.step);
        if (row != nullptr) add(static_cast<float>(weight), *row);
    }
}

void Field::add_to_row(std::size_t e, std::size_t band, std::size_t station,
                       Row& level) {
    const auto& ear = problem_.ears[e];
    const auto& from = *picks_[station];
    const double noise = problem_.profiles[ear.profile].noise;
    const auto weight =
        static_cast<float>(arriving_[e * problem_.stations.size() + station] / noise);
    const Row& leak = rows_.leak(ear.profile, problem_.stations[station].kind, band, from.band,
                                 from.channel);
    for (std::size_t c = 0; c < band_size_max; ++c) level[c] += weight * leak[c];
    if (only_band_[station]) {
        const auto counted =
            static_cast<float>(least_[e * problem_.stations.size() + station] / noise);
        const Row& least = rows_.least_leak(ear.profile, problem_.stations[station].kind, band,
                                            from.band);
        for (std::size_t c = 0; c < band_size_max; ++c) level[c] -= counted * least[c];
    }
    for_each_product(e, band, [&](float product, const Row& row) {
        for (std::size_t c = 0; c < band_size_max; ++c) level[c] += product * row[c];
    });
    if (own_makes_[e]) add_made_in_own(e, band, station, level);
}

/// What the wanted station's own output stage would make of the newcomer.
void Field::add_made_in_own(std::size_t e, std::size_t band, std::size_t station, Row& level) {
    const auto& ear = problem_.ears[e];
    const auto& from = *picks_[station];
    const auto& profile = problem_.profiles[ear.profile];
    const double weight = problem_.stations[station].powers[from.power] *
                          problem_.made_by(ear.station, station, from.band) *
                          ear.path[problem_.seat(ear.station, band)] / profile.noise;
    const auto& channels = problem_.bands[band];
    for (std::size_t c = 0; c < channels.size(); ++c) {
        const std::int64_t product = std::abs(2 * channels[c] - step(station));
        const auto* row = rows_.product(ear.profile, problem_.stations[ear.station].kind,
                                        problem_.stations[station].kind, band, product);
        if (row != nullptr)
            level[c] += static_cast<float>(weight * problem_.front(profile, product)) * (*row)[c];
    }
}

/// The same as add_to_row for an ear whose station has been put.
float Field::added_at(std::size_t e, std::size_t station) {
    const auto& ear = problem_.ears[e];
    const auto& from = *picks_[station];
    const auto& at = *picks_[ear.station];
    const double noise = problem_.profiles[ear.profile].noise;
    float sum = static_cast<float>(arriving_[e * problem_.stations.size() + station] / noise) *
                rows_.leak(ear.profile, problem_.stations[station].kind, at.band, from.band,
                           from.channel)[at.channel] -
                least_at(e, station);
    for_each_product(e, at.band, [&](float product, const Row& row) { sum += product * row[at.channel]; });
    return sum;
}

/// How many noises an ear may hear, noise included, with its front end wide open; 0 if the target
/// is out of its reach.
double Field::room(std::size_t e, std::size_t group, std::size_t band, std::size_t power) const {
    const auto& ear = problem_.ears[e];
    const auto& profile = problem_.profiles[ear.profile];
    const double others = blockers_[e * problem_.groups + group];
    if (others * target_[e] > profile.stand) return 0;
    return ear.signal[band] * problem_.stations[ear.station].powers[power] *
           squeeze(others / profile.knee) / (profile.noise * target_[e]);
}

std::uint64_t Field::hears_well(std::size_t e, const Pick& at, std::uint64_t channels) const {
    const auto& ear = problem_.ears[e];
    const Row& level = slices_[slice_[slot(e, at.group, at.band)]];
    const Row& front = rows_.front(ear.profile, at.band);
    const auto most = static_cast<float>(room(e, at.group, at.band, at.power));
    const auto near = static_cast<float>(
        ear.close[at.band] / (target_[e] * problem_.stations[ear.station].powers[at.power]));
    return mask(channels, [&](std::size_t c) {
        return level[c] + 1 <= most * front[c] && front[c] <= near;
    });
}

/// The channels on which a newcomer leaves an ear put above the target.
std::uint64_t Field::spares(std::size_t e, std::size_t station, const Pick& where,
                            std::uint64_t channels) const {
    const auto& ear = problem_.ears[e];
    const auto& profile = problem_.profiles[ear.profile];
    const auto& at = *picks_[ear.station];
    const float left = left_[e] + least_at(e, station);
    if (left < 0) return 0;
    const auto weight =
        static_cast<float>(problem_.stations[station].powers[where.power] *
                           ear.path[problem_.seat(station, where.band)] / profile.noise);
    const Row& leak = rows_.leak(ear.profile, problem_.stations[station].kind, where.band, at.band,
                                 at.channel);
    const Row& passed = rows_.front(ear.profile, where.band);
    return mask(channels, [&](std::size_t c) { return weight * passed[c] * leak[c] <= left; });
}

std::uint64_t Field::fits(std::size_t station, const Pick& where, std::uint64_t channels) const {
    for (const auto g : goals_of_[station]) {
        std::uint64_t any = 0;
        for (const auto e : problem_.goals[g]) any |= hears_well(e, where, channels);
        if ((channels &= any) == 0) return 0;
    }
    for (const auto s : members_[where.group]) {
        for (const auto g : goals_of_[s]) {
            std::uint64_t any = 0;
            for (const auto e : problem_.goals[g]) any |= spares(e, station, where, channels);
            if ((channels &= any) == 0) return 0;
        }
    }
    return channels;
}

/// Whether everybody put in a group still reaches the target; how much each ear has left for more.
bool Field::all_fit(std::size_t group) {
    return std::ranges::all_of(members_[group], [&](std::size_t s) {
        return std::ranges::all_of(goals_of_[s], [&](std::size_t g) {
            bool any = false;
            for (const auto e : problem_.goals[g]) {
                left_[e] = left(e, *picks_[s]);
                any = any || left_[e] >= 0;
            }
            return any;
        });
    });
}

/// How many more noises an ear put stands; less than 0: it is below the target.
float Field::left(std::size_t e, const Pick& at) const {
    const auto& ear = problem_.ears[e];
    const float front = rows_.front(ear.profile, at.band)[at.channel];
    const double power = problem_.stations[ear.station].powers[at.power];
    if (power * static_cast<double>(front) * target_[e] > ear.close[at.band]) return -1;
    return static_cast<float>(room(e, at.group, at.band, at.power)) * front - 1 - heard_[e];
}

double Field::used(std::size_t station, const Pick& where) const {
    double most = 0;
    for (const auto g : goals_of_[station]) {
        double least = INFINITY;
        for (const auto e : problem_.goals[g]) {
            const Row& level = slices_[slice_[slot(e, where.group, where.band)]];
            const double has = room(e, where.group, where.band, where.power);
            least = std::min(least, (static_cast<double>(level[where.channel]) + 1) / has);
        }
        most = std::max(most, least);
    }
    return most;
}

}  // namespace fieldpeg::planner
