#pragma once

#include "server/day/comparison.h"
#include "server/spectrum/relay_window.h"

#include <optional>
#include <string>
#include <vector>

namespace fieldpeg::day {

/// The day with a relay on as asked, and the same day without it. Refers to the relay and the
/// claim.
class RelayTrial {
public:
    RelayTrial(const v1::DaySheet& sheet, const v1::Relay& relay, const v1::Claim& claim,
               v1::Basis::Kind basis);
    RelayTrial(const RelayTrial&) = delete;
    RelayTrial& operator=(const RelayTrial&) = delete;

    const v1::Relay& relay() const { return relay_; }
    const v1::Claim& claim() const { return claim_; }
    spectrum::Dbm asked() const { return spectrum::Dbm(claim_.power_dbm()); }
    /// With the relay on.
    const Assessment& with() const { return with_; }
    const spectrum::Scene& scene() const { return with_.situation().scene; }
    std::size_t transmitter() const { return t_; }
    const ReceiverOf& receiver(std::size_t v) const { return with_.situation().receivers[v]; }

    const spectrum::PowerWindow& usual() const { return usual_; }
    const spectrum::PowerWindow& worst() const { return worst_; }

    /// No receiver of the day is meant to hear the relay.
    bool nobody_listens() const;
    /// Some are, and none of them can be tuned to its channel.
    bool none_can_tune() const;
    bool none_can_show() const;
    /// Its own goggles, all of them, are too near for its power.
    bool overloads_its_own() const;

    /// Neighbours whom it harms, those left worst off first.
    const std::vector<v1::Harm>& harms() const { return harms_; }
    /// Links of its owner that it costs, but for those that hear it.
    const std::vector<v1::Harm>& own_harms() const { return own_harms_; }
    /// Links of neighbours who do not need them.
    const std::vector<v1::Harm>& links_lost() const { return links_lost_; }

    /// Whether anybody would be harmed with another claim, power, channel, or from another place;
    /// its receivers stay where they are.
    bool harms_with(const v1::Claim& claim) const;
    bool harms_at(double power_dbm) const;
    bool harms_on(const v1::Channel& channel, double power_dbm) const;
    bool harms_at(const spectrum::Point& point) const;

private:
    spectrum::PowerWindow window(spectrum::Geometry geometry) const;
    Comparison compared(const Assessment& with) const { return {before_, with}; }
    std::vector<v1::Harm> own_harms(const Comparison& comparison) const;
    bool harms_on(const v1::DaySheet& sheet) const;

    const v1::Relay& relay_;
    const v1::Claim& claim_;
    v1::DaySheet with_sheet_;
    Standings before_;
    Assessment with_;
    std::size_t t_;
    spectrum::PowerWindow usual_, worst_;
    std::vector<v1::Harm> harms_, own_harms_, links_lost_;
};

}  // namespace fieldpeg::day
