#include "tests/monte_carlo/drawn.h"

#include "server/spectrum/standing.h"
#include "server/spectrum/viewer.h"
#include "tests/monte_carlo/judged.h"
#include "tests/support/assessed.h"
#include "tests/support/random.h"

#include <algorithm>
#include <cstddef>
#include <cstdint>
#include <utility>
#include <vector>

namespace fieldpeg::testing {

using spectrum::Curve;
using spectrum::Decibel;
using spectrum::Outlook;
using spectrum::Selectivity;
using spectrum::Verdict;

namespace {

Decibel decibels(std::mt19937_64& rng, double low, double high) {
    return Decibel(between(rng, low, high));
}

/// Nothing 5 MHz off, all of it from 20 MHz on; it still never turns back.
Selectivity sharper(const Selectivity& filter, Decibel by) {
    std::vector<std::int64_t> offsets_mhz = {5, 20};
    for (std::int64_t mhz = 0; mhz <= 80; mhz += 2) offsets_mhz.push_back(mhz);
    std::vector<spectrum::Hertz> offsets;
    for (const auto mhz : offsets_mhz) offsets.emplace_back(mhz * 1'000'000);
    for (const auto& knot : filter.curve().knots()) offsets.push_back(knot.offset);
    std::ranges::sort(offsets);
    offsets.erase(std::unique(offsets.begin(), offsets.end()), offsets.end());
    std::vector<Curve::Knot> knots;
    for (const auto offset : offsets) {
        const double share = std::clamp((spectrum::mhz(offset) - 5) / 15, 0.0, 1.0);
        const auto level = filter.curve().at(offset) + share * by;
        knots.push_back({offset, knots.empty() ? level : std::max(level, knots.back().level)});
    }
    return Selectivity::make(std::move(knots)).value();
}

spectrum::ReceiverProfile drawn(std::mt19937_64& rng, spectrum::ReceiverProfile profile) {
    profile.noise_figure = profile.noise_figure + decibels(rng, -2, 2);
    profile.selectivity = sharper(profile.selectivity, decibels(rng, -10, 5));
    const auto intercept = decibels(rng, -5, 10);
    profile.iip3 = profile.iip3 + intercept;
    profile.p1db = profile.p1db + intercept;
    return profile;
}

/// Everybody's word, every receiver's first.
std::vector<Verdict> words(const Assessed& a) {
    std::vector<Verdict> all;
    for (const auto& reception : a.receptions) all.push_back(verdict(standing(*reception)));
    for (const auto& viewer : spectrum::viewers(a.scene))
        all.push_back(verdict(standing(a.receptions, viewer)));
    return all;
}

std::vector<Outlook> outlooks(Assessed& a) {
    const auto doubts = spectrum::doubts(
        a.scene, a.links, a.tables, a.receptions,
        std::vector<spectrum::Guesses>(a.receptions.size(), spectrum::assumed_guesses));
    std::vector<Outlook> all;
    for (std::size_t v = 0; v < a.receptions.size(); ++v)
        all.push_back(outlook(standing(*a.receptions[v]), *doubts[v]));
    for (const auto& viewer : spectrum::viewers(a.scene))
        all.push_back(outlook(standing(a.receptions, viewer), doubt(doubts, a.receptions, viewer)));
    return all;
}

}  // namespace

spectrum::Scene drawn(std::mt19937_64& rng, spectrum::Scene field) {
    for (auto& transmitter : field.transmitters) {
        transmitter.power = transmitter.power + decibels(rng, -3, 1);
        transmitter.loss = transmitter.loss - decibels(rng, -3, 2);
    }
    std::vector<spectrum::ReceiverProfile> profiles;
    for (auto& receiver : field.receivers) {
        profiles.push_back(drawn(rng, field.profiles[receiver.profile]));
        receiver.profile = profiles.size() - 1;
    }
    field.profiles = std::move(profiles);
    return field;
}

bool holds(const Drawn& one) {
    return !one.outlook.would_settle;
}
bool changes_side(const Drawn& one) {
    return is_passed(one.word) != is_passed(one.drawn);
}

std::vector<Drawn> draw(std::mt19937_64& rng, const spectrum::Scene& field, int times) {
    Assessed reckoned(field);
    const auto said = outlooks(reckoned);
    const auto before = words(reckoned);
    std::vector<Drawn> all;
    for (int i = 0; i < times; ++i) {
        const auto after = words(Assessed(drawn(rng, field)));
        for (std::size_t who = 0; who < said.size(); ++who)
            all.push_back({said[who], before[who], after[who]});
    }
    return all;
}

}  // namespace fieldpeg::testing
