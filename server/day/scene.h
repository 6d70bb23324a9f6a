#pragma once

#include "server/spectrum/scene.h"

#include "fieldpeg/v1/assessment.pb.h"
#include "fieldpeg/v1/day.pb.h"

#include <cstddef>
#include <cstdint>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

namespace fieldpeg::day {

/// The height at which a transmitter stands on the bench [ours: a table].
inline constexpr double bench_height_m = 1.0;

/// What a transmitter of a scene is.
enum class Source {
    video,
    relay,
    sighting,
    handset,
    emitter,
    uplink,  ///< of a two-way system: on its pilot's channel, whatever that is
};

/// Whose a transmitter of a scene is.
struct TransmitterOf {
    std::string name;   ///< the pilot's, the relay's, the emitter's; "Ann's handset"
    std::string owner;  ///< the pilot; empty: a sighting or an emitter of the field
    Source source;
    v1::Channel channel;
    v1::Claim::Stage stage;
    const v1::Transmitter* gear;
};

/// Whose a receiver of a scene is.
struct ReceiverOf {
    std::string name;
    std::string owner;  ///< the pilot
    std::string relay;  ///< the relay it belongs to; empty: the pilot
    std::string hears;  ///< name of a transmitter, in the scene or not
    const v1::Receiver* gear;
    bool can_tune;  ///< false: the channel is not one of its own
    bool can_show;  ///< false: the emission is not of a kind that it shows
};

/// A moment of a day as the radio model takes it, and who is who in it. Refers to the sheet.
struct Situation {
    spectrum::Scene scene;
    std::vector<TransmitterOf> transmitters;  ///< beside scene.transmitters; uplinks come last
    std::vector<ReceiverOf> receivers;        ///< beside scene.receivers
    std::vector<std::string> controls;        ///< beside scene.controls: whose aircraft it is

    std::optional<std::size_t> transmitter(std::string_view name) const;
};

/// Where else one goes who moves by itself; none: it stays where it is.
std::vector<v1::Channel> moves_to(const TransmitterOf& of);

/// What is on the air by `basis`. A receiver hears nothing if its transmitter is not on the air,
/// stands on the bench, is on a channel that it cannot tune or of a kind that it cannot show.
/// Owners are numbered as the sheet's pilots are.
Situation situation(const v1::DaySheet& sheet, v1::Basis::Kind basis);

/// What a transmitter sends at the stage of its claim: on the bench pit mode, or the lowest step.
double sent_dbm(const v1::Transmitter& transmitter, const v1::Claim& claim);

/// What a pilot's handset and the ground side of their two-way system are called among
/// transmitters.
std::string handset_name(std::string_view pilot);
std::string uplink_name(std::string_view pilot);

/// What a sighting is called among transmitters.
std::string sighting_name(std::uint32_t id);

/// Whether a channel is among those a receiver can be tuned to.
bool can_tune(const v1::Receiver& receiver, const v1::Channel& channel);

/// Whether a receiver can show an emission, by its name.
bool can_show(const v1::DaySheet& sheet, const v1::Receiver& receiver, const std::string& emission);

/// A place as a point, an area as the volume flown in.
spectrum::Point point(const v1::Place& place);
spectrum::Envelope envelope(const v1::Area& area);

}  // namespace fieldpeg::day
