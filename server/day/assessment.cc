#include "server/day/assessment.h"

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

}  // namespace

Assessment::Assessment(const v1::DaySheet& sheet, v1::Basis::Kind basis)
    : sheet_(sheet),
      basis_(basis),
      situation_(day::situation(sheet, basis)),
      links_(situation_.scene),
      tables_(situation_.scene),
      receptions_(spectrum::assess(situation_.scene, links_, tables_)),
      viewers_(spectrum::viewers(situation_.scene)),
      day_links_(links_of(situation_.receivers)) {}

Assessment::Assessment(const v1::DaySheet& sheet, v1::Basis::Kind basis, spectrum::LinkTable links,
                       std::string_view moved)
    : sheet_(sheet),
      basis_(basis),
      situation_(day::situation(sheet, basis)),
      links_(std::move(links)),
      tables_(situation_.scene),
      viewers_(spectrum::viewers(situation_.scene)),
      day_links_(links_of(situation_.receivers)) {
    if (const auto t = situation_.transmitter(moved)) links_.update(situation_.scene, *t);
    receptions_ = spectrum::assess(situation_.scene, links_, tables_);
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
    const auto rules = spectrum::what_rules(situation_.scene, links_, tables_,
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
    return spectrum::contributions(situation_.scene, links_, tables_, receiver, geometry, most);
}

std::vector<spectrum::FrontEndSignal> Assessment::front_end_signals(std::size_t receiver,
                                                                    Geometry geometry,
                                                                    std::size_t most) const {
    return spectrum::front_end_signals(situation_.scene, links_, tables_, receiver, geometry, most);
}

}  // namespace fieldpeg::day
