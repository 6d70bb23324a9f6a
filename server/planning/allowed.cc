#include "server/day/phrases.h"
#include "server/day/remarks.h"
#include "server/day/scene.h"
#include "server/planning/plan_scene.h"
#include "server/spectrum/control.h"
#include "server/spectrum/relay_window.h"
#include "server/spectrum/standing.h"
#include "server/spectrum/viewer.h"

#include <fmt/format.h>

#include <algorithm>
#include <cstddef>
#include <functional>
#include <iterator>
#include <map>
#include <optional>
#include <set>
#include <vector>

/// What a PlanScene lets be chosen: which channels, which powers.
namespace fieldpeg::planning {

namespace {

using namespace spectrum::literals;

/// Links with nobody else on the air, everybody on the first channel that they may have.
struct Quiet {
    Quiet(const planner::Question& question, double steady_from_db)
        : scene(on_first_channels(question)),
          links(scene),
          tables(scene),
          steady_from(std::max(steady_from_db, 0.0)) {}

    static spectrum::Scene on_first_channels(const planner::Question& question) {
        auto scene = question.scene;
        for (std::size_t t = 0; t < scene.transmitters.size(); ++t)
            scene.transmitters[t].frequency = question.allowed[t].channels.front();
        return scene;
    }

    template <typename HopOrWay>
    spectrum::Decibel margin(const HopOrWay& of) {
        return spectrum::margin(
            spectrum::assess(scene, links, tables), of,
            {spectrum::Demand::watchable, spectrum::good_share, spectrum::Air::alone, false});
    }

    spectrum::Scene scene;
    spectrum::LinkTable links;
    spectrum::RejectionTables tables;
    spectrum::Decibel steady_from;
};

/// Who loses control of an aircraft if one transmitter is on a channel.
class ControlTrial {
public:
    /// A transmitter and, perhaps, what goes where it goes.
    using Pair = std::pair<std::size_t, std::optional<std::size_t>>;

    ControlTrial(spectrum::Scene scene, const planner::Question& question)
        : scene_(std::move(scene)), links_(scene_), tables_(scene_, grid(scene_, question)) {}

    void silence(const Pair& of) {
        scene_.transmitters[of.first].power = spectrum::switched_off;
        if (!of.second) return;
        follower_power_[*of.second] = scene_.transmitters[*of.second].power;
        scene_.transmitters[*of.second].power = spectrum::switched_off;
    }

    /// The controls, and the channels that all of them lose together.
    struct Lost {
        std::vector<std::size_t> controls;
        double share = 0;
    };

    Lost lost_to(const Pair& of, spectrum::Hertz channel, spectrum::Dbm power) {
        Lost lost;
        if (!is_near_any(channel)) return lost;
        const auto before = spectrum::assess_controls(scene_, links_, tables_);
        const auto was = scene_.transmitters;
        put(of.first, channel, power);
        if (of.second) put(*of.second, channel, follower_power_[*of.second]);
        const auto after = spectrum::assess_controls(scene_, links_, tables_);
        for (std::size_t c = 0; c < after.size(); ++c) {
            if (after[c].word != spectrum::ControlWord::at_risk || after[c].word == before[c].word)
                continue;
            lost.controls.push_back(c);
            lost.share += after[c].lost_share;
        }
        scene_.transmitters = was;
        links_.update(scene_, of.first);
        if (of.second) links_.update(scene_, *of.second);
        return lost;
    }

private:
    void put(std::size_t t, spectrum::Hertz channel, spectrum::Dbm power) {
        scene_.transmitters[t].frequency = channel;
        scene_.transmitters[t].power = power;
        links_.update(scene_, t);
    }

    static spectrum::Hertz grid(spectrum::Scene scene, const planner::Question& question) {
        for (const auto& allowed : question.allowed)
            for (const auto channel : allowed.channels) {
                scene.transmitters.push_back(scene.transmitters.front());
                scene.transmitters.back().frequency = channel;
            }
        return spectrum::control_grid(scene);
    }

    /// Itself or a harmonic: what is farther off cannot put a control at risk by its channels.
    bool is_near_any(spectrum::Hertz channel) const {
        constexpr spectrum::Hertz reach = 450_MHz;
        const auto is_near = [&](std::int64_t n, const spectrum::HopBand& hops) {
            return n * channel + reach > hops.low && n * channel - reach < hops.high;
        };
        return std::ranges::any_of(scene_.controls, [&](const spectrum::Control& control) {
            return is_near(1, control.hops) || is_near(2, control.hops) || is_near(3, control.hops);
        });
    }

    spectrum::Scene scene_;
    spectrum::ControlLinks links_;
    spectrum::RejectionTables tables_;
    std::map<std::size_t, spectrum::Dbm> follower_power_;
};

/// Some transmitters from their lowest power up.
class Rise {
public:
    using Powers = std::map<std::size_t, spectrum::Dbm>;

    Rise(const planner::Question& question, const std::set<std::size_t>& open, Quiet& quiet)
        : quiet_(&quiet) {
        for (const auto t : open) {
            auto& steps = above_[t] = question.allowed[t].powers;
            std::ranges::sort(steps, std::greater<>());
            louder(t);
        }
    }

    /// Hop by hop, then the weaker hop up until they are steady together, as far as the powers go.
    void until_steady(const spectrum::Way& way) {
        for (const auto& hop : way.hops)
            while (can_rise(hop) && quiet_->margin(hop) < quiet_->steady_from)
                louder(hop.transmitter);
        while ((margin_ = quiet_->margin(way)) < quiet_->steady_from) {
            std::vector<spectrum::Hop> rising;
            std::ranges::copy_if(way.hops, std::back_inserter(rising),
                                 [&](const auto& hop) { return can_rise(hop); });
            if (rising.empty()) return;
            const auto margin = [&](const auto& hop) { return quiet_->margin(hop); };
            louder(std::ranges::min_element(rising, {}, margin)->transmitter);
        }
    }

    const Powers& powers() const { return powers_; }
    /// What is steady comes first, with the least that anybody sends; then the better margin.
    bool is_better_than(const Rise& other) const {
        const bool is_steady = margin_ >= quiet_->steady_from;
        if (is_steady != (other.margin_ >= quiet_->steady_from)) return is_steady;
        return is_steady ? loudest() < other.loudest() : margin_ > other.margin_;
    }

private:
    bool can_rise(const spectrum::Hop& hop) const {
        const auto steps = above_.find(hop.transmitter);
        return steps != above_.end() && !steps->second.empty();
    }

    void louder(std::size_t transmitter) {
        auto& steps = above_.at(transmitter);
        powers_.insert_or_assign(transmitter, steps.back());
        quiet_->scene.transmitters[transmitter].power = steps.back();
        steps.pop_back();
    }

    spectrum::Dbm loudest() const {
        return std::ranges::max_element(powers_, {}, &Powers::value_type::second)->second;
    }

    Quiet* quiet_;
    std::map<std::size_t, std::vector<spectrum::Dbm>> above_;  ///< the steps left, greatest first
    Powers powers_;
    spectrum::Decibel margin_;
};

}  // namespace

/// Channels on which one of those planned for would put the control of an aircraft at risk, were it
/// the only one of them on the air. Where that is so on all, those stay on which the least is lost.
void PlanScene::leave_out_what_takes_control() {
    const auto situation = day::situation(sheet_, v1::Basis::held);
    if (situation.scene.controls.empty()) return;
    ControlTrial trial(situation.scene, question_);
    const auto may_move = [&](const Seat& seat) { return !seat.stays && seat.is_planned; };
    const auto pair = [&](std::size_t t) {
        return ControlTrial::Pair(t, situation.transmitter(day::uplink_name(seats_[t].name)));
    };
    for (std::size_t t = 0; t < seats_.size(); ++t)
        if (may_move(seats_[t])) trial.silence(pair(t));
    for (std::size_t t = 0; t < seats_.size(); ++t) {
        auto& seat = seats_[t];
        if (!may_move(seat) || seat.channels.size() < 2) continue;
        std::map<double, std::vector<v1::Channel>> by_loss;
        std::set<std::string> whose;
        for (const auto& channel : seat.channels) {
            const auto lost = trial.lost_to(pair(t), spectrum::from_mhz(channel.mhz()),
                                            question_.allowed[t].powers.front());
            for (const auto c : lost.controls) whose.insert(situation.controls[c]);
            by_loss[lost.share].push_back(channel);
        }
        if (whose.empty()) continue;
        const auto& [least, left] = *by_loss.begin();
        std::vector<std::string> out;
        for (const auto& [share, channels] : by_loss)
            if (share > least)
                for (const auto& channel : channels) out.push_back(channel.name());
        said_.push_back(fmt::format(
            "{}: control of {}'s aircraft is at risk on {}", seat.name, fmt::join(whose, ", "),
            least > 0 ? "every channel; only those are taken on which it loses least"
                      : fmt::format("{}; left out", fmt::join(out, ", "))));
        seat.channels = left;
        auto& allowed = question_.allowed[t].channels;
        allowed.clear();
        for (const auto& channel : seat.channels)
            allowed.push_back(spectrum::from_mhz(channel.mhz()));
    }
}

/// Of what may be chosen, the channels on which the rule set and the services to keep clear of have
/// the fewest remarks.
void PlanScene::find_unremarked() {
    const auto situation = day::situation(sheet_, v1::Basis::held);
    std::vector<std::string> remarked;
    for (std::size_t t = 0; t < seats_.size(); ++t) {
        auto& seat = seats_[t];
        if (seat.stays) continue;
        const auto emission = std::ranges::find(
            sheet_.emissions(), situation.transmitters[t].gear->emission(), &v1::Emission::name);
        std::map<std::size_t, std::vector<spectrum::Hertz>> by_remarks;
        for (const auto& channel : seat.channels) {
            const auto remarks =
                day::remarks({channel, emission->occupied_mhz(), std::nullopt},
                             sheet_.has_rules() ? &sheet_.rules() : nullptr, sheet_.services());
            by_remarks[remarks.size()].push_back(spectrum::from_mhz(channel.mhz()));
        }
        seat.unremarked = by_remarks.begin()->second;
        if (by_remarks.begin()->first > 0) remarked.push_back(seat.name);
    }
    if (!remarked.empty())
        said_.push_back(fmt::format("{}: there is a remark on every channel {} can have",
                                    day::names_text(remarked),
                                    remarked.size() == 1 ? "it" : "they"));
}

std::optional<planner::Question> PlanScene::preferred(const planner::Question& question) const {
    auto fewer = question;
    bool is_fewer = false;
    for (std::size_t t = 0; t < seats_.size(); ++t) {
        if (seats_[t].stays) continue;
        is_fewer |= seats_[t].unremarked.size() < question.allowed[t].channels.size();
        fewer.allowed[t].channels = seats_[t].unremarked;
    }
    for (const auto& [copy, original] : question.copies)
        fewer.allowed[copy].channels = fewer.allowed[original].channels;
    if (!is_fewer) return std::nullopt;
    return fewer;
}

/// For whoever holds no power: the lowest step at which the picture is steady with nobody else on
/// the air, or else the highest. Of several ways to it the one that needs the least.
void PlanScene::settle_powers() {
    std::optional<Quiet> quiet;
    for (const auto& viewer : spectrum::viewers(question_.scene)) {
        std::set<std::size_t> open;
        for (const auto& way : viewer.ways)
            for (const auto& hop : way.hops)
                if (seats_[hop.transmitter].least_power &&
                    question_.allowed[hop.transmitter].powers.size() > 1)
                    open.insert(hop.transmitter);
        if (open.empty()) continue;
        if (!quiet) quiet.emplace(question_, steady_from_db_);
        std::optional<Rise> best;
        for (const auto& way : viewer.ways) {
            Rise rise(question_, open, *quiet);
            rise.until_steady(way);
            if (!best || rise.is_better_than(*best)) best = rise;
        }
        for (const auto& [t, power] : best->powers()) question_.allowed[t].powers = {power};
    }
    for (std::size_t t = 0; t < seats_.size(); ++t) {  // nobody listens: not louder than it must be
        auto& powers = question_.allowed[t].powers;
        if (seats_[t].least_power) powers = {*std::ranges::min_element(powers)};
    }
}

}  // namespace fieldpeg::planning
