#pragma once

#include "server/spectrum/contributions.h"
#include "server/spectrum/control.h"
#include "server/spectrum/geometry.h"
#include "server/spectrum/link.h"
#include "server/spectrum/margin.h"
#include "server/spectrum/rejection_table.h"
#include "server/spectrum/scene.h"
#include "server/spectrum/units.h"

#include <cstddef>
#include <optional>
#include <vector>

namespace fieldpeg::spectrum {

/// Between these a relay's power is searched.
inline constexpr Dbm relay_power_min{-10};
inline constexpr Dbm relay_power_max{36};

/// What stops a fixed transmitter's power from going higher.
struct PowerLimit {
    enum class Kind {
        noise,
        co_channel,
        adjacent,
        receiver_product,
        transmitter_product,
        harmonic,
        burst,
        swamped,
        too_close,
        control,
        range_end,
    };
    Kind kind;
    std::optional<std::size_t> receiver;      ///< whose; none at the end of the range
    std::optional<std::size_t> control = {};  ///< which is put at risk, instead of a receiver
};

/// A term as what stops a power.
PowerLimit::Kind limit_kind(Contribution::Kind kind);

/// What rules a receiver in a geometry: noise, if it is more than any term.
PowerLimit::Kind what_rules(const Scene& scene, const LinkTable& links, RejectionTables& tables,
                            const Reception& reception, std::size_t receiver, Geometry geometry);

/// From the least power that a relay's own goggles need to the most before somebody else suffers.
struct PowerWindow {
    std::optional<Dbm> floor;    ///< none: not sharp even at the most power, or nobody listens
    std::optional<Dbm> ceiling;  ///< none: even the least power harms somebody
    std::optional<PowerLimit> limited_by;
    std::vector<std::size_t> below_before;  ///< receivers without a picture before the relay is on

    bool is_open() const { return floor && ceiling && *floor <= *ceiling; }
};

/// The window of the transmitter `relay`, which must stand still. Its own goggles are those that
/// hear it, each by itself; each other hop of those who see a picture is a neighbour: of who has
/// two ways the hops of the better one, of who sees it the way through it.
/// `closest`: nobody may suffer in either geometry; `usual`: in that alone.
/// The power that the scene gives the relay does not matter. `links` belongs to the scene.
PowerWindow relay_window(const Scene& scene, const LinkTable& links, std::size_t relay,
                         Geometry geometry);
PowerWindow relay_window(const Scene& scene, std::size_t relay, Geometry geometry);

/// A window up to which no control of an aircraft is put at risk, either, that is not so without
/// the relay.
PowerWindow with_controls(PowerWindow window, const Scene& scene, const ControlLinks& links,
                          std::size_t relay);

/// The least margin among the neighbours that have a good flight without this transmitter, as the
/// scene has it; none if there is no such neighbour. Requires that it stands still.
std::optional<Decibel> least_neighbour_margin(const Scene& scene, const LinkTable& links,
                                              std::size_t transmitter, Geometry geometry);

/// How a transmitter standing on the bench may be made harmless.
struct BenchAdvice {
    std::optional<Dbm> power_max;     ///< the most that harms nobody where it stands
    std::optional<Metres> step_back;  ///< how far from the one harmed first at the power it has
    std::optional<std::size_t> harmed_first;  ///< a receiver; none: it harms nobody as it is
};
BenchAdvice bench_advice(const Scene& scene, const LinkTable& links, std::size_t transmitter);

/// A power that is as good as none.
inline constexpr Dbm switched_off{-300};

/// A point moved away from another on the ground.
Point moved_away(const Point& point, const Point& from, Metres by);

}  // namespace fieldpeg::spectrum
