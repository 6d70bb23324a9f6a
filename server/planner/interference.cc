#include "server/planner/interference.h"

#include <algorithm>
#include <cstdlib>
#include <utility>

namespace fieldpeg::planner {
std::int64_t Interference::step(std::size_t s) const {
    return problem_.bands[picks_[s]->band][picks_[s]->channel];
}

bool Interference::put(std::size_t station, const Pick& pick) {
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
    if (!all_fit(pick.group) || !all_join(pick.group)) return false;
    for (std::size_t e = 0; e < problem_.ears.size(); ++e)
        if (!picks_[problem_.ears[e].station]) add_to_all_levels(e, station);
    return true;
}

/// Power that gets into an ear, and interference where its station has been put.
void Interference::add_power(std::size_t e, std::size_t station) {
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

void Interference::add_to_all_levels(std::size_t e, std::size_t station) {
    for (std::size_t band = 0; band < problem_.bands.size(); ++band) {
        const auto at = slot(e, picks_[station]->group, band);
        if (slice_[at] == no_slice) continue;
        trail_[count_ - 1].replaced.emplace_back(at, slice_[at]);
        slices_.push_back(slices_[slice_[at]]);
        slice_[at] = static_cast<std::uint32_t>(slices_.size() - 1);
        add_to_levels(e, band, station, slices_.back());
    }
}

void Interference::take_back() {
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
void Interference::find_products_with(std::size_t s) {
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
double Interference::product_power(const Ear& ear, const Product& p) const {
    const auto& profile = problem_.profiles[ear.profile];
    const std::size_t n = problem_.stations.size();
    const double* arriving = &arriving_[static_cast<std::size_t>(&ear - problem_.ears.data()) * n];
    const auto own = ear.station;
    if (p.c != Product::none)
        return p.a == own || p.b == own || p.c == own
                   ? 0
                   : problem_.triple_gain * arriving[p.a] * arriving[p.b] * arriving[p.c] /
                         (profile.iip3 * profile.iip3);
    if (p.b == own) return 0;
    double power = 0;
    if (p.a != own)
        power = problem_.pair_gain[problem_.stations[p.a].kind] * arriving[p.a] * arriving[p.a] *
                arriving[p.b] / (profile.iip3 * profile.iip3);
    if (problem_.made.empty()) return power;
    return power + problem_.stations[p.b].powers[picks_[p.b]->power] *
                       problem_.made_by(p.a, p.b, picks_[p.b]->band) *
                       ear.path[problem_.seat(p.a, picks_[p.a]->band)] *
                       problem_.front(profile, p.step);
}

/// Calls add(weight in noises, levels) for each product that matters.
template <class Add>
void Interference::for_each_product(std::size_t e, std::size_t band, Add add) {
    if (!products_matter_[e]) return;
    const auto& ear = problem_.ears[e];
    const double noise = problem_.profiles[ear.profile].noise;
    const auto kind = [&](std::size_t s) { return problem_.stations[s].kind; };
    for (const auto& p : products_) {
        const double weight = product_power(ear, p) / noise;
        if (weight <= negligible_) continue;
        const auto* levels =
            p.c == Product::none
                ? levels_.product(ear.profile, kind(p.a), kind(p.b), band, p.step)
                : levels_.product(ear.profile, kind(p.a), kind(p.b), kind(p.c), band, p.step);
        if (levels != nullptr) add(static_cast<float>(weight), *levels);
    }
}

void Interference::add_to_levels(std::size_t e, std::size_t band, std::size_t station,
                                 Levels& level) {
    const auto& ear = problem_.ears[e];
    const auto& from = *picks_[station];
    const double noise = problem_.profiles[ear.profile].noise;
    const auto weight =
        static_cast<float>(arriving_[e * problem_.stations.size() + station] / noise);
    const Levels& leak =
        levels_.leak(ear.profile, problem_.stations[station].kind, band, from.band, from.channel);
    for (std::size_t c = 0; c < band_size_max; ++c) level[c] += weight * leak[c];
    if (only_band_[station]) {
        const auto counted =
            static_cast<float>(least_[e * problem_.stations.size() + station] / noise);
        const Levels& least =
            levels_.least_leak(ear.profile, problem_.stations[station].kind, band, from.band);
        for (std::size_t c = 0; c < band_size_max; ++c) level[c] -= counted * least[c];
    }
    for_each_product(e, band, [&](float product, const Levels& levels) {
        for (std::size_t c = 0; c < band_size_max; ++c) level[c] += product * levels[c];
    });
    if (own_makes_[e]) add_made_in_own(e, band, station, level);
}

/// What the wanted station's own output stage would make of the newcomer.
void Interference::add_made_in_own(std::size_t e, std::size_t band, std::size_t station,
                                   Levels& level) {
    const auto& ear = problem_.ears[e];
    const auto& from = *picks_[station];
    const auto& profile = problem_.profiles[ear.profile];
    const double weight = problem_.stations[station].powers[from.power] *
                          problem_.made_by(ear.station, station, from.band) *
                          ear.path[problem_.seat(ear.station, band)] / profile.noise;
    const auto& channels = problem_.bands[band];
    for (std::size_t c = 0; c < channels.size(); ++c) {
        const std::int64_t product = std::abs(2 * channels[c] - step(station));
        const auto* levels = levels_.product(ear.profile, problem_.stations[ear.station].kind,
                                             problem_.stations[station].kind, band, product);
        if (levels != nullptr)
            level[c] +=
                static_cast<float>(weight * problem_.front(profile, product)) * (*levels)[c];
    }
}

/// The same as add_to_levels for an ear whose station has been put.
float Interference::added_at(std::size_t e, std::size_t station) {
    const auto& ear = problem_.ears[e];
    const auto& from = *picks_[station];
    const auto& at = *picks_[ear.station];
    const double noise = problem_.profiles[ear.profile].noise;
    float sum = static_cast<float>(arriving_[e * problem_.stations.size() + station] / noise) *
                    levels_.leak(ear.profile, problem_.stations[station].kind, at.band, from.band,
                                 from.channel)[at.channel] -
                least_at(e, station);
    for_each_product(e, at.band, [&](float product, const Levels& levels) {
        sum += product * levels[at.channel];
    });
    return sum;
}

}  // namespace fieldpeg::planner
