#include "server/planner/tables.h"

#include "server/planner/twins.h"
#include "server/spectrum/intermodulation.h"
#include "server/spectrum/margin.h"
#include "server/spectrum/noise.h"
#include "server/spectrum/propagation.h"
#include "server/spectrum/rejection.h"

#include <boost/assert.hpp>

#include <algorithm>
#include <cmath>
#include <map>
#include <set>

namespace fieldpeg::planner {
namespace {

using spectrum::Dbm;
using spectrum::Decibel;
using spectrum::Geometry;
using spectrum::Hertz;
using spectrum::LinkTable;
using spectrum::Scene;

/// So many groups' link gains are remembered: what a local search goes back and forth between.
constexpr std::size_t gains_remembered = 256;

std::vector<Link> links_of(const Scene& scene) {
    std::map<std::pair<std::size_t, std::size_t>, std::vector<std::size_t>> found;
    for (std::size_t v = 0; v < scene.receivers.size(); ++v)
        if (const auto& r = scene.receivers[v]; r.hears) found[{*r.hears, r.link}].push_back(v);
    std::vector<Link> links;
    links.reserve(found.size());
    for (auto& [key, receivers] : found) links.push_back({key.first, std::move(receivers)});
    return links;
}

std::vector<Geometry> counted(Accept accept) {
    return accept == Accept::tight ? std::vector{Geometry::ref}
                                   : std::vector{Geometry::ref, Geometry::worst};
}

/// All channels anybody may choose, as a scene, for what depends on the grid alone.
Scene census(const Question& question, const std::vector<std::vector<Hertz>>& channels) {
    Scene scene{question.scene.emissions, question.scene.profiles, {}, {}};
    for (const auto& band : channels)
        for (const auto channel : band) {
            scene.transmitters.push_back(question.scene.transmitters.front());
            scene.transmitters.back().frequency = channel;
        }
    return scene;
}

}  // namespace

Question without(const Question& question, std::size_t gone) {
    Question left = question;
    left.scene.transmitters.erase(left.scene.transmitters.begin() +
                                  static_cast<std::ptrdiff_t>(gone));
    left.allowed.erase(left.allowed.begin() + static_cast<std::ptrdiff_t>(gone));
    std::erase_if(left.scene.receivers, [&](const auto& r) { return r.hears == gone; });
    for (auto& receiver : left.scene.receivers)
        if (receiver.hears && *receiver.hears > gone) --*receiver.hears;
    for (auto* pairs : {&left.apart, &left.together}) {
        std::erase_if(*pairs, [&](const auto& p) { return p.first == gone || p.second == gone; });
        for (auto& [a, b] : *pairs) {
            if (a > gone) --a;
            if (b > gone) --b;
        }
    }
    std::erase(left.in_every_group, gone);
    for (auto& t : left.in_every_group)
        if (t > gone) --t;
    return left;
}

Question only(const Question& question, std::size_t transmitter) {
    Question alone = question;
    for (std::size_t other = question.allowed.size(); other-- > 0;)
        if (other != transmitter) alone = without(alone, other);
    return alone;
}

Tables::Tables(Question question)
    : question_(std::move(question)), links_(links_of(question_.scene)) {
    BOOST_ASSERT(question_.allowed.size() == question_.scene.transmitters.size());
    sort_channels();
    rejection_ = std::make_shared<spectrum::RejectionTables>(census(question_, channels_));
    make_tables();
}

/// Channels by the frequency that stands for their band, at most a word's worth together.
void Tables::sort_channels() {
    std::map<Hertz, std::set<Hertz>> by_reference;
    for (const auto& allowed : question_.allowed)
        for (const auto channel : allowed.channels)
            by_reference[spectrum::band_reference(channel)].insert(channel);
    for (const auto& entry : by_reference) {
        channels_.emplace_back();
        for (const auto channel : entry.second) {
            if (channels_.back().size() == band_size_max) channels_.emplace_back();
            channels_.back().push_back(channel);
        }
    }
}

void Tables::make_tables() {
    for (const auto& band : channels_) {
        auto& steps = problem_.bands.emplace_back();
        for (const auto channel : band)
            steps.push_back(channel.count() / rejection_->grid().count());
    }
    for (const auto& emission : question_.scene.emissions)
        problem_.pair_gain.push_back(emission.constant_envelope ? 1 : 2);
    problem_.product_reach = spectrum::product_reach.count() / rejection_->grid().count();
    problem_.groups = question_.groups;
    problem_.apart = question_.apart;
    problem_.together = question_.together;
    add_stations();
    add_profiles();
    std::vector<LinkTable> by_band;
    for (std::size_t band = 0; band < channels_.size(); ++band) {
        const bool same = band > 0 && spectrum::band_reference(channels_[band].front()) ==
                                          spectrum::band_reference(channels_[band - 1].front());
        by_band.push_back(same ? by_band.back() : links_in_band(band));
    }
    add_ears(by_band);
    add_made(by_band);
    mark_twins(problem_);
}

void Tables::add_stations() {
    for (std::size_t t = 0; t < question_.allowed.size(); ++t) {
        const auto& allowed = question_.allowed[t];
        auto& station = problem_.stations.emplace_back();
        station.kind = question_.scene.transmitters[t].emission;
        station.groups = allowed.groups;
        for (const auto power : allowed.powers)
            station.powers.push_back(spectrum::milliwatts(power));
        for (const auto& band : channels_) {
            std::uint64_t word = 0;
            for (std::size_t c = 0; c < band.size(); ++c)
                if (std::ranges::find(allowed.channels, band[c]) != allowed.channels.end())
                    word |= std::uint64_t{1} << c;
            station.channels.push_back(word);
        }
    }
}

void Tables::add_profiles() {
    const auto& scene = question_.scene;
    const std::size_t kinds = scene.emissions.size();
    const std::int64_t grid = rejection_->grid().count();
    for (std::size_t p = 0; p < scene.profiles.size(); ++p) {
        const auto& from = scene.profiles[p];
        auto& profile = problem_.profiles.emplace_back();
        profile.noise = spectrum::milliwatts(
            spectrum::noise_power(spectrum::noise_bandwidth(from.selectivity), from.noise_figure));
        profile.p1db = spectrum::milliwatts(from.p1db);
        profile.iip3 = spectrum::milliwatts(from.iip3);
        profile.lowest = (from.front_end_low.count() + grid - 1) / grid;
        profile.highest = from.front_end_high.count() / grid;
        profile.outside = 1 / spectrum::linear(from.front_end_rejection);
        for (std::size_t a = 0; a < kinds; ++a) {
            profile.leak.emplace_back(
                [r = rejection_, p, a](std::int64_t steps) { return r->emission(p, a, steps); });
            for (std::size_t b = 0; b < kinds; ++b) {
                profile.two.emplace_back([r = rejection_, p, a, b](std::int64_t steps) {
                    return r->two_signal(p, a, b).at(steps);
                });
                for (std::size_t c = 0; c < kinds; ++c)
                    profile.three.emplace_back([r = rejection_, p, a, b, c](std::int64_t steps) {
                        return r->three_signal(p, a, b, c).at(steps);
                    });
            }
        }
    }
}

LinkTable Tables::links_in_band(std::size_t band) const {
    Scene scene = question_.scene;
    for (auto& transmitter : scene.transmitters) transmitter.frequency = channels_[band].front();
    return LinkTable(scene);
}

/// One goal for each link and geometry: the better receiver counts in each.
void Tables::add_ears(const std::vector<LinkTable>& by_band) {
    const auto& scene = question_.scene;
    for (const auto& link : links_) {
        for (const auto geometry : counted(question_.accept)) {
            auto& goal = problem_.goals.emplace_back();
            for (const auto v : link.receivers) {
                const auto& profile = scene.profiles[scene.receivers[v].profile];
                goal.push_back(problem_.ears.size());
                auto& ear = problem_.ears.emplace_back();
                ear.station = link.transmitter;
                ear.profile = scene.receivers[v].profile;
                for (const auto& gains : by_band) {
                    ear.signal.push_back(gains.wanted(v) / spectrum::linear(profile.watchable));
                    ear.close.push_back(spectrum::milliwatts(profile.strongest_wanted) /
                                        gains.unwanted(geometry, v, link.transmitter));
                }
                for (std::size_t t = 0; t < scene.transmitters.size(); ++t)
                    for (const auto& gains : by_band)
                        ear.path.push_back(gains.unwanted(geometry, v, t));
            }
        }
    }
}

void Tables::add_made(const std::vector<LinkTable>& by_band) {
    const std::size_t n = question_.scene.transmitters.size();
    const double converted = 1 / spectrum::linear(spectrum::conversion_loss);
    for (std::size_t host = 0; host < n; ++host)
        for (std::size_t other = 0; other < n; ++other)
            for (const auto& gains : by_band)
                problem_.made.push_back(gains.coupling(other, host) * converted);
}

Hertz Tables::channel(const Pick& pick) const {
    return channels_[pick.band][pick.channel];
}

Dbm Tables::power(std::size_t transmitter, const Pick& pick) const {
    return question_.allowed[transmitter].powers[pick.power];
}

std::optional<Pick> Tables::pick(std::size_t transmitter, Hertz channel, Dbm power,
                                 std::size_t group) const {
    const auto& allowed = question_.allowed[transmitter];
    const auto at = std::ranges::find(allowed.powers, power);
    if (at == allowed.powers.end()) return std::nullopt;
    for (std::size_t band = 0; band < channels_.size(); ++band)
        for (std::size_t c = 0; c < channels_[band].size(); ++c)
            if (channels_[band][c] == channel &&
                (problem_.stations[transmitter].channels[band] >> c & 1) != 0)
                return Pick{group, band, c, static_cast<std::size_t>(at - allowed.powers.begin())};
    return std::nullopt;
}

Scene Tables::scene(const Choice& choice, std::size_t group) const {
    const auto& all = question_.scene;
    Scene scene{all.emissions, all.profiles, {}, {}};
    std::vector<std::size_t> index(choice.size());
    for (std::size_t t = 0; t < choice.size(); ++t) {
        if (choice[t].group != group) continue;
        index[t] = scene.transmitters.size();
        scene.transmitters.push_back(all.transmitters[t]);
        scene.transmitters.back().frequency = channel(choice[t]);
        scene.transmitters.back().power = power(t, choice[t]);
    }
    for (const auto& receiver : all.receivers) {
        if (!receiver.hears || choice[*receiver.hears].group != group) continue;
        scene.receivers.push_back(receiver);
        scene.receivers.back().hears = index[*receiver.hears];
    }
    return scene;
}

const LinkTable& Tables::gains(const Choice& choice, std::size_t group, const Scene& scene) const {
    std::vector<std::size_t> key;
    for (const auto& pick : choice) key.push_back(pick.group == group ? pick.band + 1 : 0);
    if (const auto known = gains_.find(key); known != gains_.end()) return known->second;
    if (gains_.size() >= gains_remembered) gains_.clear();
    return gains_.emplace(std::move(key), LinkTable(scene)).first->second;
}

std::vector<spectrum::Standing> Tables::standings(const Choice& choice) const {
    std::vector<spectrum::Standing> all(links_.size());
    for (std::size_t group = 0; group < question_.groups; ++group) {
        const Scene at = scene(choice, group);
        if (at.receivers.empty()) continue;
        const auto budgets = spectrum::assess(at, gains(choice, group, at), *rejection_);
        std::vector<spectrum::Standing> by_receiver(question_.scene.receivers.size());
        std::size_t next = 0;  // receivers of a group keep their order
        for (std::size_t v = 0; v < by_receiver.size(); ++v) {
            const auto& receiver = question_.scene.receivers[v];
            if (receiver.hears && choice[*receiver.hears].group == group)
                by_receiver[v] =
                    spectrum::standing(*budgets[next++], at.profiles[receiver.profile]);
        }
        for (std::size_t l = 0; l < links_.size(); ++l) {
            if (choice[links_[l].transmitter].group != group) continue;
            std::vector<spectrum::Standing> receivers;
            for (const auto v : links_[l].receivers) receivers.push_back(by_receiver[v]);
            all[l] = spectrum::best_of(receivers);
        }
    }
    return all;
}

Decibel Tables::margin(const spectrum::Standing& standing) const {
    return question_.accept == Accept::tight ? standing.ref : standing.reported_worst();
}

double Tables::reckon(const Choice& choice) const {
    double least = INFINITY;
    for (const auto& standing : standings(choice))
        least = std::min(least, margin(standing).count());
    return least;
}

}  // namespace fieldpeg::planner
