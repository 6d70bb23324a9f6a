#include "server/day/power_limit.h"

#include "server/day/choices.h"
#include "server/day/words.h"
#include "server/spectrum/units.h"

#include <fmt/format.h>

#include <algorithm>
#include <vector>

namespace fieldpeg::day {

bool is_above_limit(const v1::DaySheet& sheet, double power_dbm) {
    if (!sheet.has_power_limit_dbm()) return false;
    const spectrum::Dbm limit(sheet.power_limit_dbm()), power(power_dbm);
    return power > limit && !spectrum::is_same_power(power, limit);
}

std::string above_limit_text(const v1::DaySheet& sheet, double power_dbm) {
    if (!is_above_limit(sheet, power_dbm)) return "";
    return fmt::format("{} is above the club's limit of {}", power_text(power_dbm),
                       power_text(sheet.power_limit_dbm()));
}

std::optional<v1::Refusal> above_limit(const v1::DaySheet& sheet, const Holder& holder,
                                       double power_dbm) {
    auto why = above_limit_text(sheet, power_dbm);
    if (why.empty()) return std::nullopt;
    const double most_dbm = powers_within(sheet, *holder.gear).back();
    v1::Refusal refusal;
    refusal.set_kind(v1::Refusal::conflict);
    refusal.set_where(holder.name);
    refusal.set_why(std::move(why));
    refusal.set_next(
        is_above_limit(sheet, most_dbm)
            ? "it has no step within the limit: only the marshal allows it"
            : fmt::format("{} fits; more only the marshal allows", power_text(most_dbm)));
    return refusal;
}

}  // namespace fieldpeg::day
