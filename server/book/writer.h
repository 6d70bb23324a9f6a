#pragma once

#include "server/refusal/refusal.h"

#include "fieldpeg/v1/day.pb.h"

#include <optional>
#include <string>
#include <string_view>
#include <vector>

/// Parts of a day as a day file has them (docs/formats.md): the way back from parts.h. What is
/// written is as people say it, and not looked at: whoever reads it does that. Only what TOML
/// cannot hold, a text that is not UTF-8, is refused.
namespace fieldpeg::book {

struct TransmitterText {
    std::string emission, antenna, polarisation;
    std::vector<double> power_dbm;
    std::vector<std::string> channels;  ///< "R1-R8", "5790"; none: anything
};

struct ReceiverText {
    std::string receiver, antenna, polarisation;
};

struct PilotText {
    std::string name, place;
    std::string area;  ///< may be empty
    std::optional<TransmitterText> video;
    std::optional<ReceiverText> goggles;
    std::string kit = {};                   ///< may be empty
    std::string relay_place = {};           ///< of a relay that the kit brings; may be empty
    std::optional<double> uplink_dbm = {};  ///< of a two-way system
    bool is_steered = false;                ///< by a handset on 2.4 GHz
};

struct EmitterText {
    std::string name, place;
    std::optional<double> wifi;  ///< a channel's number
    std::string channel;         ///< or the channel itself
    std::optional<double> width_mhz, power_dbm, duty;
};

struct RelayText {
    std::string name, owner, place;
    TransmitterText transmitter;
    std::optional<ReceiverText> receiver;
};

Result<std::string> toml_of(const PilotText& pilot);
Result<std::string> toml_of(const RelayText& relay);
Result<std::string> toml_of(const EmitterText& emitter);
Result<std::string> toml_of(const v1::Place& place);
Result<std::string> toml_of(const v1::Area& area);

/// [receiver.NAME], with where each value comes from.
Result<std::string> toml_of(const v1::ReceiverProfile& profile);

/// A text in its quotes, for a place in a file that is written otherwise.
Result<std::string> toml_of(std::string_view text);

}  // namespace fieldpeg::book
