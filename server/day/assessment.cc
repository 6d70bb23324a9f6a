#include "server/day/assessment.h"

#include <algorithm>
#include <utility>

namespace fieldpeg::day {
namespace {

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
      budgets_(spectrum::assess(situation_.scene, links_, tables_)),
      day_links_(links_of(situation_.receivers)) {}

Assessment::Assessment(const v1::DaySheet& sheet, v1::Basis::Kind basis, spectrum::LinkTable links,
                       std::string_view moved)
    : sheet_(sheet),
      basis_(basis),
      situation_(day::situation(sheet, basis)),
      links_(std::move(links)),
      tables_(situation_.scene),
      day_links_(links_of(situation_.receivers)) {
    if (const auto t = situation_.transmitter(moved)) links_.update(situation_.scene, *t);
    budgets_ = spectrum::assess(situation_.scene, links_, tables_);
}

const spectrum::ReceiverProfile& Assessment::profile(std::size_t receiver) const {
    return situation_.scene.profiles[situation_.scene.receivers[receiver].profile];
}

std::optional<spectrum::Standing> Assessment::standing(std::size_t receiver) const {
    if (!budgets_[receiver]) return std::nullopt;
    return spectrum::standing(*budgets_[receiver], profile(receiver));
}

std::optional<spectrum::Standing> Assessment::standing(const Link& link) const {
    std::vector<spectrum::Standing> all;
    for (const auto v : link.receivers)
        if (const auto s = standing(v)) all.push_back(*s);
    if (all.empty()) return std::nullopt;
    return spectrum::best_of(all);
}

std::optional<std::size_t> Assessment::shown_by(const Link& link) const {
    std::optional<std::size_t> best;
    for (const auto v : link.receivers)
        if (const auto s = standing(v); s && (!best || s->ref > standing(*best)->ref)) best = v;
    return best;
}

std::vector<Assessment::Chain> Assessment::chains(const v1::Pilot& pilot) const {
    std::vector<Chain> all;
    for (const auto& last : day_links_) {
        if (last.owner != pilot.name() || !last.relay.empty()) continue;
        const auto relay = std::ranges::find(sheet_.relays(), last.hears, &v1::Relay::name);
        if (relay == sheet_.relays().end() || relay->receivers().empty()) {
            all.push_back({&last});
            continue;
        }
        for (const auto& first : day_links_)
            if (first.owner == pilot.name() && first.relay == relay->name() &&
                first.hears == pilot.name())
                all.push_back({&first, &last});
    }
    return all;
}

std::optional<spectrum::Standing> Assessment::standing(const Chain& chain) const {
    std::vector<spectrum::Standing> hops;
    for (const auto* link : chain) {
        const auto hop = standing(*link);
        if (!hop) return std::nullopt;
        hops.push_back(*hop);
    }
    return spectrum::least_of(hops);
}

std::optional<spectrum::Standing> Assessment::standing(const v1::Pilot& pilot) const {
    std::vector<spectrum::Standing> ways;
    for (const auto& chain : chains(pilot))
        if (const auto s = standing(chain)) ways.push_back(*s);
    if (ways.empty()) return std::nullopt;
    return spectrum::best_of(ways);
}

std::optional<std::size_t> Assessment::ruling_receiver(const v1::Pilot& pilot) const {
    std::optional<spectrum::Decibel> best;
    const Link* ruling = nullptr;
    for (const auto& chain : chains(pilot)) {
        const auto s = standing(chain);
        if (!s || (best && s->ref <= *best)) continue;
        best = s->ref;
        ruling = *std::ranges::min_element(chain, {},
                                           [&](const Link* link) { return standing(*link)->ref; });
    }
    return ruling ? shown_by(*ruling) : std::nullopt;
}

v1::PowerWindow::Kind Assessment::trouble(std::size_t receiver) const {
    if (spectrum::is_swamped((*budgets_[receiver])[0], profile(receiver)))
        return v1::PowerWindow::swamped;
    const auto terms = contributions(receiver, Geometry::ref, 1);
    if (terms.empty()) return v1::PowerWindow::noise;
    switch (terms.front().kind) {
        case spectrum::Contribution::Kind::co_channel:
            return v1::PowerWindow::co_channel;
        case spectrum::Contribution::Kind::adjacent:
            return v1::PowerWindow::adjacent;
        case spectrum::Contribution::Kind::receiver_product:
            return v1::PowerWindow::receiver_product;
        case spectrum::Contribution::Kind::transmitter_product:
            break;
    }
    return v1::PowerWindow::transmitter_product;
}

std::vector<spectrum::Contribution> Assessment::contributions(std::size_t receiver,
                                                              Geometry geometry,
                                                              std::size_t most) const {
    return spectrum::contributions(situation_.scene, links_, tables_, receiver, geometry, most);
}

}  // namespace fieldpeg::day
