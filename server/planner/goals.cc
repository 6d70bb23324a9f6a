#include "server/planner/goals.h"

#include <algorithm>
#include <array>
#include <set>

namespace fieldpeg::planner {
namespace {

using spectrum::Air;
using spectrum::Dbm;
using spectrum::Decibel;
using spectrum::Demand;
using spectrum::Geometry;
using spectrum::Hop;
using spectrum::Viewer;
using spectrum::Way;

bool is_analogue(const Question& question, const Way& way) {
    return std::ranges::all_of(way.hops, [&](const Hop& hop) {
        return question.scene.emissions[question.scene.transmitters[hop.transmitter].emission]
            .constant_envelope;
    });
}

bool has(const Way& way, std::size_t transmitter) {
    return std::ranges::find(way.hops, transmitter, &Hop::transmitter) != way.hops.end();
}

/// Every transmitter of a viewer's ways, once.
std::vector<std::size_t> transmitters_of(const Viewer& viewer) {
    std::vector<std::size_t> all;
    for (const auto& way : viewer.ways)
        for (const auto& hop : way.hops)
            if (std::ranges::find(all, hop.transmitter) == all.end())
                all.push_back(hop.transmitter);
    return all;
}

std::vector<std::size_t> receivers_of(const Viewer& viewer) {
    std::vector<std::size_t> all;
    for (const auto& way : viewer.ways)
        for (const auto& hop : way.hops)
            for (const auto v : hop.receivers)
                if (std::ranges::find(all, v) == all.end()) all.push_back(v);
    return all;
}

/// One picture that one receiver shows and nobody else adds to: its ear says all.
bool is_plain(const Viewer& viewer) {
    return viewer.ways.size() == 1 && viewer.ways.front().hops.size() == 1 &&
           viewer.ways.front().hops.front().receivers.size() == 1;
}

/// A picture that several receivers make; they are numbered anew, in the order of the viewer's
/// ways.
struct Together {
    struct OfEar {
        spectrum::ReceiverProfile profile;
        Decibel body;
        bool hears_analogue;
        std::vector<spectrum::WantedGain> gains;  ///< [band]
    };

    double margin_db(std::span<const EarNow> now) {
        for (std::size_t i = 0; i < ears.size(); ++i) {
            const auto& of = ears[i];
            receptions[i] = {&of.profile, &of.gains[now[i].band],      spectrum::dbm(now[i].sent),
                             of.body,     spectrum::dbm(now[i].floor), of.hears_analogue,
                             {}};
        }
        return spectrum::margin(receptions, viewer, aim).count();
    }

    Viewer viewer;
    spectrum::Aim aim;
    std::vector<OfEar> ears;
    spectrum::Receptions receptions;
};

spectrum::Reception quiet(const Question& question, const spectrum::LinkTable& links, std::size_t v,
                          spectrum::Dbm noise) {
    const auto& receiver = question.scene.receivers[v];
    const auto& transmitter = question.scene.transmitters[*receiver.hears];
    return {&question.scene.profiles[receiver.profile],
            &links.wanted(v),
            {},
            receiver.body,
            noise,
            question.scene.emissions[transmitter.emission].constant_envelope,
            {}};
}

/// Whether its own transmitter is so strong for a receiver that this, not noise, is its margin.
bool is_ruled_by_closeness(const spectrum::Reception& reception) {
    return std::ranges::any_of(
        std::array{spectrum::good_share, spectrum::usable_share}, [&](double share) {
            return reception.closeness(share) <
                   spectrum::margin(reception, {Demand::watchable, share, Air::alone, false});
        });
}

}  // namespace

Alone::Alone(const Question& question, const Viewer& viewer,
             const std::vector<std::vector<spectrum::Hertz>>& channels,
             const std::vector<spectrum::LinkTable>& by_band, spectrum::RejectionTables& rejection)
    : question_(question),
      viewer_(viewer),
      channels_(channels),
      by_band_(by_band),
      rejection_(rejection),
      transmitters_(transmitters_of(viewer)),
      receptions_(question.scene.receivers.size()) {
    try_from(0);
}

void Alone::try_from(std::size_t i) {
    if (i < transmitters_.size()) {
        try_all(i);
        return;
    }
    const auto margin = [&](double share) {
        return spectrum::margin(receptions_, viewer_, {Demand::watchable, share, Air::alone});
    };
    const Margins now{margin(spectrum::good_share), margin(spectrum::usable_share)};
    best_ = {std::max(best_.good, now.good), std::max(best_.usable, now.usable)};
    least_ = {std::min(least_.good, now.good), std::min(least_.usable, now.usable)};
}

/// Every power on every band, inside the front end and outside, of one of the transmitters. Where
/// it is too strong for nobody, the least power and the greatest do: margins only rise with it.
void Alone::try_all(std::size_t i) {
    const auto t = transmitters_[i];
    const auto& allowed = question_.allowed[t];
    if (allowed.powers.empty()) return;
    std::vector<std::size_t> hearers;
    for (const auto v : receivers_of(viewer_))
        if (question_.scene.receivers[v].hears == t) hearers.push_back(v);
    for (std::size_t band = 0; band < channels_.size(); ++band) {
        std::set<std::vector<Decibel>> losses;
        for (const auto channel : channels_[band]) {
            if (std::ranges::find(allowed.channels, channel) == allowed.channels.end()) continue;
            std::vector<Decibel> loss;
            loss.reserve(hearers.size());
            for (const auto v : hearers)
                loss.push_back(spectrum::front_end_loss(
                    question_.scene.profiles[question_.scene.receivers[v].profile], channel));
            if (!losses.insert(loss).second) continue;
            const auto send = [&](Dbm power) {
                for (std::size_t k = 0; k < hearers.size(); ++k) {
                    const auto v = hearers[k];
                    receptions_[v] = quiet(question_, by_band_[band], v,
                                           rejection_.noise(question_.scene.receivers[v].profile));
                    receptions_[v]->sent = power - loss[k];
                }
            };
            const auto [least, greatest] = std::ranges::minmax(allowed.powers);
            send(greatest);
            const bool is_too_strong = std::ranges::any_of(
                hearers, [&](std::size_t v) { return is_ruled_by_closeness(*receptions_[v]); });
            for (const auto power :
                 is_too_strong ? allowed.powers : std::vector<Dbm>{least, greatest}) {
                send(power);
                try_from(i + 1);
            }
        }
    }
}

/// A receiver as part of a viewer's picture.
struct Goals::Part {
    std::size_t receiver;
    std::size_t beside;  ///< how many receivers the hop has
    /// What the chain needs more of it than the receiver alone.
    Decibel more;
};

std::vector<std::size_t> Goals::instances(std::size_t transmitter) const {
    std::vector<std::size_t> all{transmitter};
    for (const auto& [copy, original] : question_.copies)
        if (original == transmitter) all.push_back(copy);
    return all;
}

void Goals::add(const Viewer& viewer, double share, Geometry geometry,
                std::optional<double> held_db, const IsEverywhere& is_everywhere) {
    const auto profile = [&](const Hop& hop) -> const auto& {
        return question_.scene.profiles[question_.scene.receivers[hop.receivers.front()].profile];
    };
    const auto first_goal = problem_.goals.size();
    const auto all = transmitters_of(viewer);
    const bool flies_in_a_group = !std::ranges::all_of(all, is_everywhere);
    for (const auto t : all) {
        if (flies_in_a_group && is_everywhere(t)) continue;
        if (!std::ranges::all_of(viewer.ways, [&](const Way& way) { return has(way, t); }))
            continue;
        std::vector<Part> parts;
        for (const auto& way : viewer.ways) {
            const auto& hop = *std::ranges::find(way.hops, t, &Hop::transmitter);
            // Analogue hops are held against what the last one requires.
            const Decibel more = is_analogue(question_, way)
                                     ? profile(way.hops.back()).watchable - profile(hop).watchable
                                     : Decibel(0);
            for (const auto v : hop.receivers) parts.push_back({v, hop.receivers.size(), more});
        }
        for (const auto station : instances(t)) add_goal(station, parts, share, geometry, held_db);
    }
    const bool is_anywhere = std::ranges::any_of(all, is_everywhere);
    if (!is_plain(viewer) && !is_anywhere && problem_.goals.size() > first_goal)
        add_joint(viewer, share, geometry, first_goal);
}

void Goals::add_goal(std::size_t station, const std::vector<Part>& parts, double share,
                     Geometry geometry, std::optional<double> held_db) {
    Goal goal;
    for (const auto& part : parts) goal.push_back(add_ear(station, part, share, geometry));
    problem_.goals.push_back(std::move(goal));
    problem_.held_db.push_back(held_db);
}

/// Of several receivers together none is sure to have a share for itself, but one of them has its
/// part of it: what they have is no more than the sum.
std::size_t Goals::add_ear(std::size_t station, const Part& part, double share, Geometry geometry) {
    const auto& receiver = question_.scene.receivers[part.receiver];
    const auto& profile = question_.scene.profiles[receiver.profile];
    auto& ear = problem_.ears.emplace_back();
    ear.station = station;
    ear.profile = receiver.profile;
    for (const auto& gains : by_band_) {
        const auto& wanted = gains.wanted(part.receiver);
        ear.signal.push_back(linear(wanted.exceeded(share / static_cast<double>(part.beside)) -
                                    receiver.body - profile.watchable - part.more));
        ear.close.push_back(milliwatts(profile.strongest_wanted) /
                            linear(wanted.exceeded(1 - share)));
    }
    for (std::size_t t = 0; t < question_.scene.transmitters.size(); ++t)
        for (const auto& gains : by_band_)
            ear.path.push_back(gains.unwanted(geometry, part.receiver, t));
    return problem_.ears.size() - 1;
}

/// The exact margin of a picture that several make, by the model's own function.
void Goals::add_joint(const Viewer& viewer, double share, Geometry geometry,
                      std::size_t first_goal) {
    Joint joint;
    joint.goal = first_goal;
    auto picture = std::make_shared<Together>();
    picture->viewer = viewer;
    picture->aim.share = share;
    for (auto& way : picture->viewer.ways)
        for (auto& hop : way.hops)
            for (auto& v : hop.receivers) {
                const auto& receiver = question_.scene.receivers[v];
                joint.ears.push_back(add_ear(hop.transmitter, {v, 1, {}}, share, geometry));
                const auto& sent_by = question_.scene.transmitters[hop.transmitter];
                auto& of_ear = picture->ears.emplace_back(
                    Together::OfEar{question_.scene.profiles[receiver.profile],
                                    receiver.body,
                                    question_.scene.emissions[sent_by.emission].constant_envelope,
                                    {}});
                for (const auto& gains : by_band_) of_ear.gains.push_back(gains.wanted(v));
                v = picture->ears.size() - 1;
            }
    picture->receptions.resize(picture->ears.size());
    joint.margin_db = [picture](std::span<const EarNow> now) { return picture->margin_db(now); };
    problem_.joints.push_back(std::move(joint));
}

}  // namespace fieldpeg::planner
