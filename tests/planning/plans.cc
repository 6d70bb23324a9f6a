#include "tests/planning/plans.h"

#include "server/day/check.h"
#include "server/day/state.h"

#include <algorithm>
#include <cstdint>
#include <stdexcept>
#include <utility>

namespace fieldpeg::testing {

const v1::PlanChoice& choice_of(const v1::PlanReply& reply, const std::string& transmitter) {
    const auto found =
        std::ranges::find(reply.choices(), transmitter, &v1::PlanChoice::transmitter);
    if (found == reply.choices().end()) throw std::out_of_range(transmitter);
    return *found;
}

v1::DaySheet with(v1::DaySheet sheet,
                  const google::protobuf::RepeatedPtrField<v1::PlanChoice>& plan) {
    std::uint32_t last_id = 0;
    sheet = day::with_ids(std::move(sheet), last_id);
    for (const auto& c : plan) {
        auto& claim = day::claim_of(sheet, day::holder(sheet, c.transmitter())->id);
        claim.mutable_channel()->set_name(c.channel());
        claim.mutable_channel()->set_mhz(c.channel_mhz());
        claim.set_power_dbm(c.power_dbm());
        claim.set_group(c.group());
        if (claim.stage() == v1::Claim::unknown) claim.set_stage(v1::Claim::held);
    }
    return sheet;
}

std::map<std::string, double> margins_by_check(const v1::DaySheet& sheet) {
    std::map<std::string, double> margins;
    const auto reply = day::check(sheet, v1::Basis::held, 0);
    for (const auto& p : reply.pilots())
        if (p.has_margin_worst_db()) margins[p.pilot()] = p.margin_worst_db();
    return margins;
}

}  // namespace fieldpeg::testing
