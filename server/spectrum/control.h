#pragma once

#include "server/spectrum/link_memory.h"
#include "server/spectrum/rejection_table.h"
#include "server/spectrum/scene.h"

#include <cstddef>
#include <optional>
#include <vector>

/// Whether an aircraft can still be steered (docs/model.md, section 14).
namespace fieldpeg::spectrum {

/// Between two antennas on one airframe [ours: assumed].
inline constexpr Decibel own_isolation = 20_dB;

enum class ControlWord {
    ok,
    at_risk,  ///< more than a third of its channels are lost to somebody
    too_far,  ///< they are lost with nobody else on the air
};

/// By what somebody takes channels from a control.
enum class ControlThief {
    direct,    ///< on its channels, or beside them
    harmonic,  ///< with twice or three times its frequency
    blocking,  ///< so strong that the receiver hears less
};

/// To whom a control loses most.
struct ControlLoss {
    /// The transmitter without which the fewest were lost; of equals that which takes most alone.
    std::size_t to;
    ControlThief by;
    /// By how much less of it the control would be out of risk; none: others suffice for that.
    std::optional<Decibel> cured_by;
};

struct ControlStanding {
    ControlWord word;
    Dbm wanted;                       ///< exceeded for 98 % of the time, at the far rim
    double lost_share;                ///< of its hop channels
    bool lost_alone;                  ///< all of them, with nobody else on the air
    std::optional<ControlLoss> loss;  ///< at risk
};

/// Link gains to where controls are looked at, as LinkTable for receivers.
class ControlLinks {
public:
    explicit ControlLinks(const Scene& scene);
    /// The same, with what is known of other scenes.
    ControlLinks(const Scene& scene, LinkMemory& memory);

    /// One transmitter has moved.
    void update(const Scene& scene, std::size_t transmitter);

    /// Of the handset, exceeded for 98 % of the time.
    Decibel wanted(std::size_t control) const { return wanted_[control]; }
    /// Of a disturbance, as it counts; of one aboard that between antennas of one airframe.
    double unwanted(std::size_t control, std::size_t transmitter) const {
        return unwanted_[control * transmitters_ + transmitter];
    }

private:
    void set(const Scene& scene, std::size_t control, std::size_t transmitter, LinkMemory& memory);

    std::size_t transmitters_;
    std::vector<Decibel> wanted_;
    std::vector<double> unwanted_;
};

/// The step on which the channels of all controls lie, and all frequencies of the scene.
Hertz control_grid(const Scene& scene);

/// In the scene's order. `tables` count in a control_grid.
std::vector<ControlStanding> assess_controls(const Scene& scene, const ControlLinks& links,
                                             RejectionTables& tables);

}  // namespace fieldpeg::spectrum
