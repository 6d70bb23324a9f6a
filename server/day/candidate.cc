#include "server/day/candidate.h"

#include "server/day/choices.h"
#include "server/day/words.h"
#include "server/spectrum/scene.h"

#include <algorithm>
#include <set>
#include <tuple>
#include <utility>

namespace fieldpeg::day {

bool Candidate::is_inside() const {
    return std::ranges::none_of(outcome.remarks, &v1::Remark::outside);
}

bool Candidate::is_loud_enough(bool sharp) const {
    const auto lacks = [](const auto& margin) { return margin && *margin < spectrum::Decibel(0); };
    return !lacks(outcome.alone) && !(sharp && lacks(outcome.alone_sharp));
}

double Candidate::least_db() const {
    const double own = outcome.own.has_margin_worst_db() ? outcome.own.margin_worst_db() : -200;
    return std::min(own, outcome.least_other_db.value_or(own));
}

bool is_better(const Candidate& one, const Candidate& other) {
    const auto merit = [](const Candidate& c) {
        return std::tuple(c.is_good(), c.is_inside(), c.is_clean(), c.least_db());
    };
    return merit(one) > merit(other);
}

v1::Alternative message(const Candidate& c) {
    v1::Alternative m;
    *m.mutable_channel() = c.channel;
    m.set_power_dbm(milli(c.power_dbm));
    m.set_margin_ref_db(c.outcome.own.margin_ref_db());
    m.set_margin_worst_db(c.outcome.own.margin_worst_db());
    m.set_verdict(c.outcome.own.verdict());
    if (c.outcome.least_other_db) m.set_least_other_db(milli(*c.outcome.least_other_db));
    m.set_clean(c.is_clean());
    return m;
}

Candidate least_steady(const Try& tried, const v1::Channel& channel,
                       const std::vector<double>& rising, bool sharp) {
    auto chosen = tried(channel, rising.front());
    for (std::size_t i = 1; i < rising.size() && !chosen.is_loud_enough(sharp); ++i) {
        auto next = tried(channel, rising[i]);
        if (!next.outcome.harms.empty() && chosen.outcome.harms.empty()) break;
        chosen = std::move(next);
    }
    return chosen;
}

std::vector<v1::Channel> channels_tried(const Holder& held, const v1::DaySheet& sheet) {
    auto channels = channels_of(held, sheet);
    if (channels.size() > channels_tried_max) channels.resize(channels_tried_max);
    return channels;
}

bool are_too_many_channels(const v1::DaySheet& sheet, const Holder& held,
                           const v1::Channel* another) {
    std::set<double> in_use;
    for_each_holder(sheet, [&](const auto& one) {
        if (one.has_claim() && one.id() != held.id) in_use.insert(one.claim().channel().mhz());
    });
    for (const auto& s : sheet.sightings()) in_use.insert(s.channel().mhz());
    if (another != nullptr) in_use.insert(another->mhz());
    return in_use.size() > spectrum::distinct_channels_max;
}

}  // namespace fieldpeg::day
