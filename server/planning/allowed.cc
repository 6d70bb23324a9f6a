#include "server/day/remarks.h"
#include "server/day/scene.h"
#include "server/planning/plan_scene.h"
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

/// Links with nobody else on the air, everybody on the first channel that they may have.
struct Quiet {
    explicit Quiet(const planner::Question& question)
        : scene(on_first_channels(question)), links(scene), tables(scene) {}

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
            while (can_rise(hop) && quiet_->margin(hop) < spectrum::Decibel(0))
                louder(hop.transmitter);
        while ((margin_ = quiet_->margin(way)) < spectrum::Decibel(0)) {
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
        const bool is_steady = margin_ >= spectrum::Decibel(0);
        if (is_steady != (other.margin_ >= spectrum::Decibel(0))) return is_steady;
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

/// Of what may be chosen, the channels on which the rule set and the services to keep clear of have
/// the fewest remarks.
void PlanScene::find_unremarked() {
    const auto situation = day::situation(sheet_, v1::Basis::held);
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
        if (by_remarks.begin()->first > 0)
            said_.push_back(
                fmt::format("{}: there is a remark on every channel it can have", seat.name));
    }
}

std::optional<planner::Question> PlanScene::preferred(const planner::Question& question) const {
    auto fewer = question;
    bool is_fewer = false;
    for (std::size_t t = 0; t < seats_.size(); ++t) {
        if (seats_[t].stays) continue;
        is_fewer |= seats_[t].unremarked.size() < question.allowed[t].channels.size();
        fewer.allowed[t].channels = seats_[t].unremarked;
    }
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
        if (!quiet) quiet.emplace(question_);
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
