#include "server/day/assessment.h"

#include "server/day/state.h"
#include "server/day/words.h"
#include "server/spectrum/relay_window.h"
#include "server/spectrum/standing.h"

#include <algorithm>
#include <utility>

namespace fieldpeg::day {
namespace {

using spectrum::Air;
using spectrum::Demand;
using spectrum::Geometry;

std::vector<Link> links_of(const std::vector<ReceiverOf>& receivers) {
    std::vector<Link> links;
    for (std::size_t v = 0; v < receivers.size(); ++v) {
        const auto& of = receivers[v];
        const auto known = std::ranges::find_if(links, [&](const Link& l) {
            return l.owner == of.owner && l.relay == of.relay && l.hears == of.hears;
        });
        auto& link = known != links.end()
                         ? *known
                         : links.emplace_back(Link{of.owner, of.relay, of.hears, {}});
        link.receivers.push_back(v);
    }
    return links;
}

/// Does not move by itself any more.
void stay(v1::Pilot& pilot) {
    if (pilot.has_video()) pilot.mutable_video()->set_moves_by_itself(false);
}
void stay(v1::Relay& relay) {
    relay.mutable_transmitter()->set_moves_by_itself(false);
}

std::vector<spectrum::ControlStanding> controls_of(const spectrum::Scene& scene,
                                                   const spectrum::ControlLinks& links,
                                                   spectrum::RejectionMemory& memory) {
    if (scene.controls.empty()) return {};
    const auto tables = memory.tables(scene, spectrum::control_grid(scene));
    return spectrum::assess_controls(scene, links, *tables);
}

}  // namespace

Assessment::Assessment(const v1::DaySheet& sheet, v1::Basis::Kind basis, Memory& memory)
    : sheet_(sheet),
      basis_(basis),
      situation_(day::situation(sheet, basis)),
      gains_(situation_.scene, memory.links),
      tables_(
          memory.rejections.tables(situation_.scene, spectrum::frequency_grid(situation_.scene))),
      receptions_(spectrum::assess(situation_.scene, gains_.pictures, *tables_)),
      viewers_(spectrum::viewers(situation_.scene)),
      controls_(controls_of(situation_.scene, gains_.controls, memory.rejections)),
      day_links_(links_of(situation_.receivers)) {
    memory.links.make_room();
    look_elsewhere(memory);
}

/// A day with one who moves by itself on another of its channels, where it stays.
struct Assessment::Elsewhere {
    Elsewhere(v1::DaySheet moved, v1::Basis::Kind basis, Memory& memory)
        : sheet(std::move(moved)), assessment(sheet, basis, memory) {}

    v1::DaySheet sheet;
    Assessment assessment;
};

Assessment::~Assessment() = default;

/// One at a time: where two move by themselves, each is looked at with the other at home.
void Assessment::look_elsewhere(Memory& memory) {
    for (const auto& of : situation_.transmitters) {
        for (const auto& channel : moves_to(of)) {
            auto sheet = sheet_;
            for_each_holder(sheet, [&](auto& one) {
                if (one.name() == of.name) *one.mutable_claim()->mutable_channel() = channel;
                stay(one);
            });
            elsewhere_.push_back(std::make_unique<Elsewhere>(std::move(sheet), basis_, memory));
        }
    }
}

std::vector<const Assessment*> Assessment::moments() const {
    std::vector<const Assessment*> all{this};
    for (const auto& other : elsewhere_) all.push_back(&other->assessment);
    return all;
}

const Assessment& Assessment::at_worst_for(const v1::Pilot& pilot) const {
    const auto all = moments();
    return **std::ranges::max_element(all, {}, [&](const auto* one) { return one->plight(pilot); });
}

Plight Assessment::plight(const v1::Pilot& pilot) const {
    const auto is = standing(pilot);
    const auto steers = control(pilot);
    return {steers && steers->word == spectrum::ControlWord::at_risk,
            is && spectrum::interference(*is) != spectrum::Interference::none,
            spectrum::verdict(is), is ? -is->good : spectrum::Decibel(0)};
}

std::optional<spectrum::Standing> Assessment::standing(std::size_t receiver) const {
    if (!receptions_[receiver]) return std::nullopt;
    return spectrum::standing(*receptions_[receiver]);
}

std::optional<spectrum::Standing> Assessment::standing(const Link& link) const {
    spectrum::Hop hop{0, {}};
    for (const auto v : link.receivers) {
        if (!receptions_[v]) continue;
        hop.transmitter = *situation_.scene.receivers[v].hears;
        hop.receivers.push_back(v);
    }
    if (hop.receivers.empty()) return std::nullopt;
    return spectrum::standing(receptions_, hop);
}

const spectrum::Viewer* Assessment::viewer(const v1::Pilot& pilot) const {
    const auto at = std::ranges::find(sheet_.pilots(), pilot.name(), &v1::Pilot::name);
    const auto owner = static_cast<std::size_t>(at - sheet_.pilots().begin());
    const auto found = std::ranges::find(viewers_, owner, &spectrum::Viewer::owner);
    return found == viewers_.end() ? nullptr : &*found;
}

std::optional<spectrum::Standing> Assessment::standing(const v1::Pilot& pilot) const {
    const auto* sees = viewer(pilot);
    if (sees == nullptr) return std::nullopt;
    return spectrum::standing(receptions_, *sees);
}

std::optional<spectrum::Decibel> Assessment::reach_sharp(const v1::Pilot& pilot) const {
    const auto* sees = viewer(pilot);
    if (sees == nullptr) return std::nullopt;
    return spectrum::margin(receptions_, *sees,
                            {Demand::sharp, spectrum::usable_share, Air::alone, false});
}

std::optional<spectrum::ControlStanding> Assessment::control(const v1::Pilot& pilot) const {
    const auto found = std::ranges::find(situation_.controls, pilot.name());
    if (found == situation_.controls.end()) return std::nullopt;
    return controls_[static_cast<std::size_t>(found - situation_.controls.begin())];
}

std::vector<std::optional<spectrum::Doubt>> Assessment::doubts(
    const std::vector<spectrum::Guesses>& guesses) const {
    return spectrum::doubts(situation_.scene, gains_.pictures, *tables_, receptions_, guesses);
}

std::optional<spectrum::Outlook> Assessment::outlook(
    const v1::Pilot& pilot, const std::vector<std::optional<spectrum::Doubt>>& doubts) const {
    const auto* sees = viewer(pilot);
    if (sees == nullptr) return std::nullopt;
    return spectrum::outlook(spectrum::standing(receptions_, *sees),
                             spectrum::doubt(doubts, receptions_, *sees));
}

std::optional<Shares> Assessment::shares(std::size_t receiver) const {
    if (!receptions_[receiver]) return std::nullopt;
    const auto& r = *receptions_[receiver];
    return Shares{spectrum::share(r, Demand::watchable, Air::usual),
                  spectrum::share(r, Demand::watchable, Air::alone),
                  spectrum::share(r, Demand::sharp, Air::usual)};
}

std::optional<Shares> Assessment::shares(const v1::Pilot& pilot) const {
    const auto* sees = viewer(pilot);
    if (sees == nullptr) return std::nullopt;
    return Shares{spectrum::share(receptions_, *sees, Demand::watchable, Air::usual),
                  spectrum::share(receptions_, *sees, Demand::watchable, Air::alone),
                  spectrum::share(receptions_, *sees, Demand::sharp, Air::usual)};
}

std::optional<std::size_t> Assessment::shown_by(const Link& link) const {
    return shown_by(link.receivers);
}

std::optional<std::size_t> Assessment::shown_by(const std::vector<std::size_t>& receivers) const {
    std::optional<std::size_t> best;
    for (const auto v : receivers)
        if (const auto s = standing(v); s && (!best || s->good > standing(*best)->good)) best = v;
    return best;
}

std::optional<std::size_t> Assessment::ruling_receiver(const v1::Pilot& pilot) const {
    const auto* sees = viewer(pilot);
    if (sees == nullptr) return std::nullopt;
    const auto& way = *std::ranges::max_element(
        sees->ways, {}, [&](const auto& one) { return spectrum::margin(receptions_, one, {}); });
    const auto& hop = *std::ranges::min_element(
        way.hops, {}, [&](const auto& one) { return spectrum::margin(receptions_, one, {}); });
    return shown_by(hop.receivers);
}

v1::PowerWindow::Kind Assessment::trouble(std::size_t receiver) const {
    const auto rules = spectrum::what_rules(situation_.scene, gains_.pictures, *tables_,
                                            *receptions_[receiver], receiver, Geometry::usual);
    // Who suffers from others wants to know through what, though noise may be more than that.
    const auto terms = contributions(receiver, Geometry::usual, 1);
    return kind(rules == spectrum::PowerLimit::Kind::noise && !terms.empty()
                    ? spectrum::limit_kind(terms.front().kind)
                    : rules);
}

std::vector<spectrum::Contribution> Assessment::contributions(std::size_t receiver,
                                                              Geometry geometry,
                                                              std::size_t most) const {
    return spectrum::contributions(situation_.scene, gains_.pictures, *tables_, receiver, geometry,
                                   most);
}

std::vector<spectrum::FrontEndSignal> Assessment::front_end_signals(std::size_t receiver,
                                                                    Geometry geometry,
                                                                    std::size_t most) const {
    return spectrum::front_end_signals(situation_.scene, gains_.pictures, *tables_, receiver,
                                       geometry, most);
}

}  // namespace fieldpeg::day
