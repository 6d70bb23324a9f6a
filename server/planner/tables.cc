#include "server/planner/tables.h"

#include "server/planner/goals.h"
#include "server/planner/twins.h"
#include "server/spectrum/blocking.h"
#include "server/spectrum/intermodulation.h"
#include "server/spectrum/margin.h"
#include "server/spectrum/noise.h"
#include "server/spectrum/propagation.h"
#include "server/spectrum/rejection.h"
#include "server/spectrum/standing.h"

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

/// All channels anybody may choose, as a scene, for what depends on the grid alone.
Scene census(const Question& question, const std::vector<std::vector<Hertz>>& channels) {
    Scene scene{question.scene.emissions, question.scene.profiles, {}, {}};
    for (const auto& band : channels)
        for (const auto channel : band) {
            scene.transmitters.push_back(question.scene.transmitters.front());
            scene.transmitters.back().frequency = channel;
        }
    for (const auto& beside : question.beside)
        if (!beside.follows) scene.transmitters.push_back(beside.transmitter);
    for (const auto& [t, elsewhere] : question.moving)
        for (const auto channel : elsewhere) {
            scene.transmitters.push_back(question.scene.transmitters[t]);
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
    std::erase_if(left.scene.receivers,
                  [&](const auto& r) { return r.hears == gone || r.feeds == gone; });
    const auto moved_up = [&](std::size_t& t) {
        if (t > gone && t != spectrum::Receiver::silent) --t;
    };
    for (auto& receiver : left.scene.receivers) {
        if (receiver.hears) moved_up(*receiver.hears);
        if (receiver.feeds) moved_up(*receiver.feeds);
    }
    for (auto* pairs : {&left.apart, &left.together, &left.copies}) {
        std::erase_if(*pairs, [&](const auto& p) { return p.first == gone || p.second == gone; });
        for (auto& [a, b] : *pairs) {
            moved_up(a);
            moved_up(b);
        }
    }
    std::erase_if(left.beside, [&](const Beside& b) { return b.follows == gone; });
    for (auto& beside : left.beside)
        if (beside.follows) moved_up(*beside.follows);
    std::erase_if(left.moving, [&](const auto& one) { return one.first == gone; });
    for (auto& one : left.moving) moved_up(one.first);
    std::erase(left.in_every_group, gone);
    for (auto& t : left.in_every_group) moved_up(t);
    return left;
}

Question only(const Question& question, std::size_t transmitter) {
    return only(question, std::vector{transmitter});
}

Question only(const Question& question, const std::vector<std::size_t>& transmitters) {
    Question left = question;
    for (std::size_t other = question.allowed.size(); other-- > 0;)
        if (std::ranges::find(transmitters, other) == transmitters.end())
            left = without(left, other);
    return left;
}

Question in_groups(const Question& question, std::size_t groups) {
    Question asked = question;
    asked.groups = groups;
    for (const auto t : question.in_every_group) {
        asked.allowed[t].groups = 1;
        for (std::size_t group = 1; group < groups; ++group) {
            const std::size_t copy = asked.allowed.size();
            asked.scene.transmitters.push_back(question.scene.transmitters[t]);
            asked.allowed.push_back(question.allowed[t]);
            asked.allowed.back().groups = std::uint64_t{1} << group;
            asked.copies.emplace_back(copy, t);
        }
    }
    return asked;
}

Tables::Tables(Question question)
    : question_(std::move(question)), viewers_(spectrum::viewers(question_.scene)) {
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
    problem_.same = question_.copies;
    add_stations();
    add_profiles();
    std::vector<LinkTable> by_band;
    for (std::size_t band = 0; band < channels_.size(); ++band) {
        const bool same = band > 0 && spectrum::band_reference(channels_[band].front()) ==
                                          spectrum::band_reference(channels_[band - 1].front());
        by_band.push_back(same ? by_band.back() : links_in_band(band));
    }
    see_who_counts(by_band);
    add_goals(by_band);
    add_made(by_band);
    mark_twins(problem_);
}

void Tables::add_stations() {
    for (std::size_t t = 0; t < question_.allowed.size(); ++t) {
        const auto& allowed = question_.allowed[t];
        auto& station = problem_.stations.emplace_back();
        station.kind = question_.scene.transmitters[t].emission;
        station.groups = allowed.groups;
        station.looks = looks(t);
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

/// The first that nothing tells apart from one for which the tables know too little: by its
/// harmonics, by where it goes, by what is beside it and its receivers.
std::size_t Tables::looks(std::size_t t) const {
    const auto leads = [&](std::size_t one) {
        return std::ranges::any_of(question_.beside,
                                   [&](const Beside& b) { return b.follows == one; }) ||
               std::ranges::any_of(question_.moving, [&](const auto& m) { return m.first == one; });
    };
    if (leads(t)) return t;
    const auto heard_from = [&](std::size_t one) {
        std::vector<const spectrum::Receiver*> all;
        for (const auto& receiver : question_.scene.receivers)
            if (receiver.hears == one) all.push_back(&receiver);
        return all;
    };
    const auto same_ears = [](const auto* a, const auto* b) {
        return a->at == b->at && a->antenna == b->antenna && a->loss == b->loss &&
               a->body == b->body;
    };
    const auto& own = question_.scene.transmitters[t];
    for (std::size_t other = 0; other < t; ++other) {
        const auto& theirs = question_.scene.transmitters[other];
        const bool same_harmonics = own.harmonic_filter == theirs.harmonic_filter &&
                                    own.harmonics_below == theirs.harmonics_below;
        if (leads(other) || !same_harmonics) continue;
        if (question_.beside.empty() ||
            std::ranges::equal(heard_from(t), heard_from(other), same_ears))
            return other;
    }
    return t;
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
        profile.blocking = spectrum::milliwatts(from.p1db + spectrum::intercept_above_p1db);
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

void Tables::see_who_counts(const std::vector<LinkTable>& by_band) {
    for (const auto& viewer : viewers_) {
        const planner::Alone alone(question_, viewer, channels_, by_band, *rejection_);
        alone_.push_back({alone.least().good, alone.least().usable});
        counts_.push_back(alone.best().good >= Decibel(0) && !is_unasked(alone_.size() - 1));
    }
}

bool Tables::anybody_counts() const {
    return std::ranges::find(counts_, true) != counts_.end();
}

bool Tables::is_on_in_every_group(std::size_t t) const {
    return std::ranges::any_of(question_.copies,
                               [&](const auto& c) { return c.first == t || c.second == t; });
}

/// What everybody must reach: with a hop on each of their stations that no way goes without, and
/// where several receivers or hops make a picture together, with all of it.
void Tables::add_goals(const std::vector<LinkTable>& by_band) {
    Goals goals(question_, by_band, problem_);
    for (std::size_t i = 0; i < viewers_.size(); ++i) {
        const auto& viewer = viewers_[i];
        const auto add = [&](double share, Geometry geometry, std::optional<double> held_db) {
            goals.add(viewer, share, geometry, held_db,
                      [&](std::size_t t) { return is_on_in_every_group(t); });
            viewer_of_goal_.resize(problem_.goals.size(), i);
        };
        if (counts_[i]) {
            add(spectrum::good_share, Geometry::usual, std::nullopt);
            if (question_.accept == Accept::steady)
                add(spectrum::usable_share, Geometry::closest, std::nullopt);
        } else if (!may_pay(i)) {
            const auto& alone = alone_[i];
            add(spectrum::good_share, Geometry::usual, (alone.good - spectrum::blame_from).count());
            if (alone.usable >= Decibel(0)) add(spectrum::usable_share, Geometry::usual, 0);
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

std::vector<std::size_t> Tables::members(const Choice& choice, std::size_t group) const {
    std::vector<std::size_t> all;
    for (std::size_t t = 0; t < choice.size(); ++t)
        if (choice[t].group == group) all.push_back(t);
    for (std::size_t i = 0; i < question_.beside.size(); ++i)
        if (is_beside(i, choice, group)) all.push_back(choice.size() + i);
    return all;
}

/// Whether what is beside is on while a group flies.
bool Tables::is_beside(std::size_t i, const Choice& choice, std::size_t group) const {
    const auto& follows = question_.beside[i].follows;
    return !follows || instance(*follows, choice, group);
}

/// Itself where it is in a group, or its copy there.
std::optional<std::size_t> Tables::instance(std::size_t t, const Choice& choice,
                                            std::size_t group) const {
    if (choice[t].group == group) return t;
    for (const auto& [copy, original] : question_.copies)
        if (original == t && choice[copy].group == group) return copy;
    return std::nullopt;
}

Scene Tables::scene(const Choice& choice, std::size_t group) const {
    const auto& all = question_.scene;
    Scene scene{all.emissions, all.profiles, {}, all.receivers};
    std::vector<std::size_t> index(choice.size(), spectrum::Receiver::silent);
    for (const auto t : members(choice, group)) {
        if (t >= choice.size()) {
            const auto& beside = question_.beside[t - choice.size()];
            scene.transmitters.push_back(beside.transmitter);
            if (beside.follows)
                scene.transmitters.back().frequency =
                    channel(choice[*instance(*beside.follows, choice, group)]);
            continue;
        }
        index[t] = scene.transmitters.size();
        scene.transmitters.push_back(all.transmitters[t]);
        scene.transmitters.back().frequency = channel(choice[t]);
        scene.transmitters.back().power = power(t, choice[t]);
    }
    for (auto& receiver : scene.receivers) {
        if (receiver.hears) {
            const auto heard = instance(*receiver.hears, choice, group);
            receiver.hears = heard ? std::optional(index[*heard]) : std::nullopt;
        }
        if (receiver.feeds && *receiver.feeds != spectrum::Receiver::silent) {
            const auto relay = instance(*receiver.feeds, choice, group);
            receiver.feeds = relay ? index[*relay] : spectrum::Receiver::silent;
        }
    }
    return scene;
}

std::vector<Scene> Tables::scenes(const Choice& choice, std::size_t group) const {
    std::vector<Scene> all{scene(choice, group)};
    const auto in_it = members(choice, group);
    for (const auto& [t, elsewhere] : question_.moving) {
        const auto is = instance(t, choice, group);
        if (!is) continue;
        const auto at = static_cast<std::size_t>(std::ranges::find(in_it, *is) - in_it.begin());
        for (const auto channel : elsewhere) {
            auto moved = all.front();
            for (std::size_t k = 0; k < in_it.size(); ++k)
                if (in_it[k] >= choice.size() &&
                    question_.beside[in_it[k] - choice.size()].follows == t)
                    moved.transmitters[k].frequency = channel;
            moved.transmitters[at].frequency = channel;
            all.push_back(std::move(moved));
        }
    }
    return all;
}

const LinkTable& Tables::gains(const Choice& choice, std::size_t group, const Scene& scene) const {
    std::vector<std::int64_t>
        key;  // who is in it and in which band: one who moves may be in another
    const auto in_it = members(choice, group);
    for (std::size_t k = 0; k < in_it.size(); ++k) {
        key.push_back(static_cast<std::int64_t>(in_it[k]));
        key.push_back(spectrum::band_reference(scene.transmitters[k].frequency).count());
    }
    if (const auto known = gains_.find(key); known != gains_.end()) return known->second;
    if (gains_.size() >= gains_remembered) gains_.clear();
    return gains_.emplace(std::move(key), LinkTable(scene)).first->second;
}

std::vector<std::optional<spectrum::Standing>> Tables::standings(const Choice& choice) const {
    std::vector<std::optional<spectrum::Standing>> all(viewers_.size());
    for (std::size_t group = 0; group < question_.groups; ++group) {
        for (const auto& at : scenes(choice, group)) {
            if (at.transmitters.empty()) continue;
            const auto receptions = spectrum::assess(at, gains(choice, group, at), *rejection_);
            for (const auto& viewer : spectrum::viewers(at)) {
                const auto i = static_cast<std::size_t>(
                    std::ranges::find(viewers_, viewer.owner, &spectrum::Viewer::owner) -
                    viewers_.begin());
                const auto here = spectrum::standing(receptions, viewer);
                if (!all[i] || margin(here) < margin(*all[i])) all[i] = here;
            }
        }
    }
    return all;
}

Decibel Tables::margin(const spectrum::Standing& standing) const {
    return question_.accept == Accept::tight ? standing.good : standing.worst();
}

bool Tables::is_unasked(std::size_t viewer) const {
    const auto& unasked = question_.unasked;
    return std::ranges::find(unasked, viewers_[viewer].owner) != unasked.end();
}

bool Tables::may_pay(std::size_t viewer) const {
    return is_unasked(viewer) ||
           std::ranges::find(question_.may_pay, viewers_[viewer].owner) != question_.may_pay.end();
}

bool Tables::is_wronged(std::size_t viewer, const spectrum::Standing& standing) const {
    return !counts_[viewer] && !may_pay(viewer) &&
           spectrum::interference(standing) != spectrum::Interference::none;
}

double Tables::reckon(const Choice& choice) const {
    double least = INFINITY;
    const auto all = standings(choice);
    for (std::size_t i = 0; i < all.size(); ++i) {
        if (!all[i]) return -INFINITY;  // a relay in another group than its aircraft
        if (counts_[i])
            least = std::min(least, margin(*all[i]).count());
        else if (is_wronged(i, *all[i]))
            return -INFINITY;
    }
    return least;
}

}  // namespace fieldpeg::planner
