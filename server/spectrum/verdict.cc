#include "server/spectrum/verdict.h"

#include <boost/assert.hpp>

#include <algorithm>

namespace fieldpeg::spectrum {
namespace {

template <class Choose>
Standing each(std::span<const Standing> all, Choose choose) {
    BOOST_ASSERT(!all.empty());
    Standing chosen = all.front();
    for (const auto& s : all.subspan(1)) {
        chosen.ref = choose(chosen.ref, s.ref);
        chosen.worst = choose(chosen.worst, s.worst);
        chosen.sharp = choose(chosen.sharp, s.sharp);
        chosen.alone = choose(chosen.alone, s.alone);
    }
    return chosen;
}

/// 0: no trouble with others; the more the worse.
int trouble(const Standing& s) {
    switch (verdict(s)) {
        case Verdict::shaky:
            return 1;
        case Verdict::clash:
            return 2;
        default:
            return 0;
    }
}

}  // namespace

Standing standing(const std::array<Budget, 2>& budgets, const ReceiverProfile& profile) {
    const auto& [ref, worst] = budgets;
    return {margins(ref, profile, Demand::watchable).least,
            margins(worst, profile, Demand::watchable).least,
            margins(ref, profile, Demand::sharp).least, range_margin(ref, profile)};
}

Standing best_of(std::span<const Standing> receivers) {
    return each(receivers, [](Decibel a, Decibel b) { return std::max(a, b); });
}

Standing least_of(std::span<const Standing> links) {
    return each(links, [](Decibel a, Decibel b) { return std::min(a, b); });
}

Verdict verdict(const std::optional<Standing>& standing) {
    if (!standing) return Verdict::no_picture;
    if (standing->alone < 0_dB) return Verdict::too_far;
    if (standing->ref < shaky_down_to) return Verdict::clash;
    if (standing->ref < 0_dB) return Verdict::shaky;
    return standing->worst < 0_dB ? Verdict::tight : Verdict::steady;
}

Picture picture(const std::optional<Standing>& standing) {
    if (!standing || standing->ref < 0_dB) return Picture::broken;
    return standing->sharp < 0_dB ? Picture::watchable : Picture::sharp;
}

bool harms(const Standing& before, const Standing& after) {
    const bool in_trouble_already = verdict(after) == Verdict::too_far || trouble(before) > 0;
    if (in_trouble_already && before.ref - after.ref > harm_tolerance) return true;
    return trouble(after) > trouble(before);
}

}  // namespace fieldpeg::spectrum
