#pragma once

#include "server/day/comparison.h"
#include "server/spectrum/relay_window.h"

#include <cstdint>
#include <memory>
#include <optional>
#include <string>
#include <vector>

namespace fieldpeg::day {

/// The day with a relay on as asked, and the same day without it, in every flight in which it is
/// on. Refers to the relay and the claim.
class RelayTrial {
public:
    RelayTrial(const v1::DaySheet& sheet, const v1::Relay& relay, const v1::Claim& claim,
               v1::Basis::Kind basis, const std::vector<std::uint32_t>& groups);
    RelayTrial(const RelayTrial&) = delete;
    RelayTrial& operator=(const RelayTrial&) = delete;

    const v1::Relay& relay() const { return relay_; }
    const v1::Claim& claim() const { return claim_; }
    spectrum::Dbm asked() const { return spectrum::Dbm(claim_.power_dbm()); }
    /// With the relay on, in the flight that leaves it least.
    const Assessment& with() const { return main_->with; }
    const spectrum::Scene& scene() const { return with().situation().scene; }
    std::size_t transmitter() const { return main_->transmitter; }
    const ReceiverOf& receiver(std::size_t v) const { return with().situation().receivers[v]; }
    /// The group of that flight; 0: everybody at once.
    std::uint32_t group() const { return main_->group; }

    /// What all flights leave, and in which of them the most power is found.
    struct Window : spectrum::PowerWindow {
        const Situation* limited_in = nullptr;
    };
    const Window& usual() const { return usual_; }
    const Window& worst() const { return worst_; }

    /// Who is harmed is for the comparison to say; the window informs.
    v1::RelayCheckReply::Answer answer() const;

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
    struct Flight {
        Flight(std::uint32_t of, const v1::DaySheet& day, const v1::Relay& relay,
               const v1::Claim& claim, v1::Basis::Kind basis);
        spectrum::PowerWindow window(spectrum::Geometry geometry) const;
        Comparison compared(const Assessment& other) const { return {before, other}; }

        std::uint32_t group;
        v1::DaySheet sheet;
        Standings before;
        Assessment with;
        std::size_t transmitter;
    };
    Window window(spectrum::Geometry geometry) const;
    std::vector<v1::Harm> own_harms(const Comparison& comparison) const;
    /// Whether anybody is harmed in a flight whose sheet was changed.
    bool harms_on(const Flight& flight, const v1::DaySheet& sheet) const;

    const v1::Relay& relay_;
    const v1::Claim& claim_;
    std::vector<std::unique_ptr<Flight>> flights_;
    const Flight* main_ = nullptr;
    Window usual_, worst_;
    std::vector<v1::Harm> harms_, own_harms_, links_lost_;
};

}  // namespace fieldpeg::day
