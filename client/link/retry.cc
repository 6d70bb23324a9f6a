#include "client/link/retry.h"

#include <algorithm>
#include <utility>

namespace fieldpeg::link {

bool is_final(const v1::Refusal& goodbye) {
    return goodbye.kind() != v1::Refusal::unavailable;
}

std::optional<Retry::Wait> Retry::after(Unanswered what, Time now) {
    if (what == Unanswered::for_good) return std::nullopt;
    if (what == Unanswered::sent && ++sends_ >= sends_most_) return std::nullopt;
    if (back_off_ >= give_up_ - now) return std::nullopt;
    return std::exchange(back_off_, std::min<Wait>(2 * back_off_, back_off_most));
}

Silence::Due Silence::due(Time now) const {
    if (now - heard_ >= silent_max) return Due::giving_up;
    return now - asked_ >= ping_every ? Due::ping : Due::nothing;
}

Silence::Time Silence::next() const {
    return std::min(heard_ + silent_max, asked_ + ping_every);
}

}  // namespace fieldpeg::link
