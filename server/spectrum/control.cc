#include "server/spectrum/control.h"

#include "server/spectrum/blocking.h"
#include "server/spectrum/ear.h"
#include "server/spectrum/flight.h"
#include "server/spectrum/link.h"
#include "server/spectrum/own_craft.h"

#include <algorithm>
#include <cstdint>
#include <numeric>
#include <utility>

namespace fieldpeg::spectrum {
namespace {

constexpr int cure_max_db = 80;

/// Hopping control holds with about a third of its packets lost [ours: assumed].
bool is_at_risk(double lost_share) {
    return 3 * lost_share > 1;
}

/// At the rim farthest from the handset, half way up.
Receiver at_far_rim(const Scene& scene, const Control& control) {
    const auto from = std::visit(
        [](const auto& at) {
            return Point{at.x_m, at.y_m, 0};
        },
        scene.transmitters[control.handset].at);
    Receiver receiver{control.profile, control.handset, control.antenna, control.loss,
                      far_rim_half_way_up(control.area, from)};
    receiver.flies = true;
    return receiver;
}

bool is_aboard(const Control& control, std::size_t transmitter) {
    return std::ranges::find(control.aboard, transmitter) != control.aboard.end();
}

/// Where the channels of one control lie.
std::vector<Hertz> channels_of(const Control& control) {
    const auto step = control.step.count();
    const auto count = (control.hops.high - control.hops.low).count() / step;
    std::vector<Hertz> all;
    all.reserve(static_cast<std::size_t>(count));
    for (std::int64_t k = 0; k < count; ++k)
        all.push_back(control.hops.low + Hertz(k * step + step / 2));
    return all;
}

/// What arrives at one control: of each transmitter all of it, and on each channel what disturbs
/// there.
class Arrivals {
public:
    Arrivals(const Scene& scene, const ControlLinks& links, RejectionTables& tables,
             std::size_t index)
        : control_(scene.controls[index]),
          profile_(scene.profiles[control_.profile]),
          noise_mw_(milliwatts(tables.noise(control_.profile))),
          wanted_(scene.transmitters[control_.handset].power + links.wanted(index)),
          channels_(channels_of(control_)),
          front_end_mw_(scene.transmitters.size()),
          on_channel_mw_(scene.transmitters.size()),
          is_harmonic_(scene.transmitters.size()) {
        for (std::size_t t = 0; t < front_end_mw_.size(); ++t) {
            if (t == control_.handset) continue;
            const auto& transmitter = scene.transmitters[t];
            const double mw = milliwatts(transmitter.power) * links.unwanted(index, t);
            front_end_mw_[t] =
                mw * tables.through_front_end(control_.profile, transmitter.frequency);
            if (!transmitter.hops) add_on_channels(tables, t, transmitter, mw);
        }
    }

    Dbm wanted() const { return wanted_; }
    bool is_lost_alone() const { return wanted_ - dbm(noise_mw_) < profile_.watchable; }

    /// The share of its channels that are lost.
    double lost_share() const {
        return lost_share([](std::size_t) { return 1.0; });
    }
    /// The same were one of them so much weaker, or all but one silent.
    double lost_share(std::size_t weaker, double to) const {
        return lost_share([&](std::size_t t) { return t == weaker ? to : 1.0; });
    }
    double lost_to_alone(std::size_t one) const {
        return lost_share([&](std::size_t t) { return t == one ? 1.0 : 0.0; });
    }

    template <class Left>
    double lost_share(Left share_left) const {
        if (channels_.empty()) return 0;
        double blockers = 0;
        std::vector<double> floor_mw(channels_.size(), noise_mw_);
        for (std::size_t t = 0; t < front_end_mw_.size(); ++t) {
            const double left = share_left(t);
            blockers += left * front_end_mw_[t];
            for (std::size_t k = 0; k < on_channel_mw_[t].size(); ++k)
                floor_mw[k] += left * on_channel_mw_[t][k];
        }
        const double most_mw = milliwatts(wanted_ - profile_.watchable - deaf(blockers));
        const auto lost = std::ranges::count_if(floor_mw, [&](double mw) { return mw > most_mw; });
        return static_cast<double>(lost) / static_cast<double>(channels_.size());
    }

    ControlLoss loss() const {
        std::vector<std::size_t> all(front_end_mw_.size());
        std::iota(all.begin(), all.end(), 0U);
        std::erase(all, control_.handset);
        const auto to = *std::ranges::min_element(all, {}, [&](std::size_t t) {
            return std::pair(lost_share(t, 0), -lost_to_alone(t));  // either of two may suffice
        });
        return {to, thief(to), cure(to)};
    }

private:
    Decibel deaf(double blockers_mw) const {
        return blockers_mw > 0 ? desensitisation(dbm(blockers_mw), profile_.p1db) : Decibel(0);
    }

    ControlThief thief(std::size_t t) const {
        const auto& on_channel = on_channel_mw_[t];
        const double most = on_channel.empty() ? 0 : std::ranges::max(on_channel);
        const double weakened = linear(deaf(front_end_mw_[t])) * noise_mw_;
        if (weakened - noise_mw_ > most) return ControlThief::blocking;
        return is_harmonic_[t] ? ControlThief::harmonic : ControlThief::direct;
    }

    /// In whole decibels.
    std::optional<Decibel> cure(std::size_t t) const {
        if (is_at_risk(lost_share(t, 0))) return std::nullopt;
        for (int db = 1; db < cure_max_db; ++db)
            if (!is_at_risk(lost_share(t, linear(Decibel(-db))))) return Decibel(db);
        return std::nullopt;
    }

    /// Directly, and by the harmonics.
    void add_on_channels(RejectionTables& tables, std::size_t t, const Transmitter& transmitter,
                         double mw) {
        const auto steps = [&](Hertz off) { return off.count() / tables.grid().count(); };
        const double mw_counted = counted(transmitter.duty) * mw;
        std::vector<double> at(channels_.size());
        double direct = 0, all = 0;
        for (std::size_t k = 0; k < channels_.size(); ++k) {
            at[k] = tables.emission(control_.profile, transmitter.emission,
                                    steps(distance(transmitter.frequency, channels_[k]))) *
                    tables.through_front_end(control_.profile, transmitter.frequency);
            direct += at[k];
            for (const auto n : harmonics) {
                const Hertz harmonic = n * transmitter.frequency;
                at[k] += tables.harmonic(control_.profile, transmitter.emission, n,
                                         steps(distance(harmonic, channels_[k]))) *
                         radiated_share(transmitter, n) *
                         tables.through_front_end(control_.profile, harmonic);
            }
            all += at[k];
            at[k] *= mw_counted;
        }
        if (all <= 0) return;
        is_harmonic_[t] = direct < all / 2;
        on_channel_mw_[t] = std::move(at);
    }

    const Control& control_;
    const ReceiverProfile& profile_;
    double noise_mw_;
    Dbm wanted_;
    std::vector<Hertz> channels_;
    std::vector<double> front_end_mw_;                ///< by transmitter
    std::vector<std::vector<double>> on_channel_mw_;  ///< by transmitter, channel; empty: nothing
    std::vector<bool> is_harmonic_;                   ///< by transmitter: most of that
};

}  // namespace

ControlLinks::ControlLinks(const Scene& scene) : transmitters_(0) {
    LinkMemory of_this_scene;
    *this = ControlLinks(scene, of_this_scene);
}

ControlLinks::ControlLinks(const Scene& scene, LinkMemory& memory)
    : transmitters_(scene.transmitters.size()),
      wanted_(scene.controls.size()),
      unwanted_(wanted_.size() * transmitters_) {
    for (std::size_t c = 0; c < wanted_.size(); ++c)
        for (std::size_t t = 0; t < transmitters_; ++t) set(scene, c, t, memory);
}

void ControlLinks::update(const Scene& scene, std::size_t transmitter) {
    LinkMemory of_this_scene;
    for (std::size_t c = 0; c < scene.controls.size(); ++c) {
        if (scene.controls[c].handset != transmitter) {
            set(scene, c, transmitter, of_this_scene);
            continue;
        }
        for (std::size_t t = 0; t < transmitters_; ++t)
            set(scene, c, t, of_this_scene);  // another far rim
    }
}

void ControlLinks::set(const Scene& scene, std::size_t control, std::size_t t, LinkMemory& memory) {
    const auto& of = scene.controls[control];
    if (t != of.handset && is_aboard(of, t)) {
        unwanted_[control * transmitters_ + t] = linear(-own_isolation);
        return;
    }
    const auto from = memory.number_of(scene.transmitters[t]);
    const auto to = memory.number_of(at_far_rim(scene, of));
    if (t == of.handset)
        wanted_[control] = memory.wanted(from, to)->exceeded(good_share);
    else
        unwanted_[control * transmitters_ + t] = memory.unwanted(Geometry::usual, from, to);
}

Hertz control_grid(const Scene& scene) {
    auto grid = frequency_grid(scene).count();
    for (const auto& control : scene.controls)
        for (const auto channel : channels_of(control)) grid = std::gcd(grid, channel.count());
    return Hertz(grid);
}

std::vector<ControlStanding> assess_controls(const Scene& scene, const ControlLinks& links,
                                             RejectionTables& tables) {
    std::vector<ControlStanding> all;
    all.reserve(scene.controls.size());
    for (std::size_t c = 0; c < scene.controls.size(); ++c) {
        const Arrivals arrivals(scene, links, tables, c);
        ControlStanding standing{ControlWord::ok,
                                 arrivals.wanted(),
                                 arrivals.lost_share(),
                                 arrivals.is_lost_alone(),
                                 {}};
        if (standing.lost_alone) {
            standing.word = ControlWord::too_far;
        } else if (is_at_risk(standing.lost_share)) {
            standing.word = ControlWord::at_risk;
            standing.loss = arrivals.loss();
        }
        all.push_back(standing);
    }
    return all;
}

}  // namespace fieldpeg::spectrum
