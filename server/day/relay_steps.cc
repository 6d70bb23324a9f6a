#include "server/day/relay_steps.h"

#include "server/day/power_limit.h"
#include "server/day/relay_trial.h"
#include "server/day/remarks.h"
#include "server/day/swamping.h"
#include "server/day/words.h"
#include "server/spectrum/exposure.h"

#include <algorithm>
#include <string>

namespace fieldpeg::day {
namespace {

/// The same name once, where it stands first.
void add_names(const std::vector<v1::Harm>& harms, v1::RelayStep& step) {
    for (const auto& h : harms)
        if (std::ranges::find(step.harmed(), h.pilot()) == step.harmed().end())
            step.add_harmed(h.pilot());
}

v1::RelayStep step(const RelayTrial& trial) {
    v1::RelayStep m;
    m.set_power_dbm(milli(trial.asked().count()));
    m.set_answer(trial.answer());
    add_names(trial.harms(), m);
    add_names(trial.own_harms(), m);
    if (const auto widest =
            swamping(trial.with().situation(), trial.transmitter(), trial.relay().owner()))
        m.set_swamps_within_m(milli(widest->within.count()));
    const auto& transmitter = trial.scene().transmitters[trial.transmitter()];
    const auto radiated = eirp(transmitter);
    m.set_eirp_dbm(milli(radiated.count()));
    m.set_keep_away_m(milli(spectrum::exposure_distance(radiated, transmitter.frequency).count()));
    return m;
}

}  // namespace

void add_steps(const v1::DaySheet& sheet, const v1::Relay& relay, v1::Claim claim,
               v1::Basis::Kind basis, const std::vector<std::uint32_t>& groups,
               v1::RelayCheckReply& reply) {
    const auto& powers = relay.transmitter().power_dbm();
    std::vector<double> rising(powers.begin(), powers.end());
    std::ranges::sort(rising);
    for (const double power_dbm : rising) {
        claim.set_power_dbm(power_dbm);
        const auto& added = *reply.add_steps() =
            step(RelayTrial(sheet, relay, claim, basis, groups));
        if (added.answer() == v1::RelayCheckReply::fits && !is_above_limit(sheet, power_dbm))
            reply.set_best_dbm(added.power_dbm());
    }
}

}  // namespace fieldpeg::day
