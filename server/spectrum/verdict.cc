#include "server/spectrum/verdict.h"

namespace fieldpeg::spectrum {

Range range(const Standing& s) {
    if (s.alone_good >= 0_dB) return Range::good;
    // Closeness is what is wrong where a margin would be there without it.
    if (s.reach_good >= 0_dB || (s.alone_usable < 0_dB && s.reach_usable >= 0_dB))
        return Range::too_close;
    return s.alone_usable >= 0_dB ? Range::patchy : Range::too_far;
}

Interference interference(const Standing& s) {
    const bool is_blamed = s.good < 0_dB && (s.alone_good >= 0_dB || s.cost() >= blame_from ||
                                             (s.alone_usable >= 0_dB && s.usable < 0_dB));
    if (!is_blamed) return Interference::none;
    return s.usable >= 0_dB ? Interference::shaky : Interference::clash;
}

Verdict verdict(const std::optional<Standing>& standing) {
    if (!standing) return Verdict::no_picture;
    switch (interference(*standing)) {
        case Interference::shaky:
            return Verdict::shaky;
        case Interference::clash:
            return Verdict::clash;
        case Interference::none:
            break;
    }
    switch (range(*standing)) {
        case Range::good:
            break;
        case Range::patchy:
            return Verdict::patchy;
        case Range::too_close:
            return Verdict::too_close;
        case Range::too_far:
            return Verdict::too_far;
    }
    return standing->closest >= 0_dB ? Verdict::steady : Verdict::tight;
}

Picture picture(const std::optional<Standing>& standing) {
    if (!standing || standing->usable < 0_dB) return Picture::broken;
    return standing->sharp < 0_dB ? Picture::watchable : Picture::sharp;
}

bool harms(const Standing& before, const Standing& after) {
    if (interference(after) > interference(before)) return true;
    const bool in_trouble_already = before.good < 0_dB;
    return in_trouble_already && before.good - after.good >= blame_from;
}

}  // namespace fieldpeg::spectrum
