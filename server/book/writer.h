#pragma once

#include "server/book/map.h"
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

/// What of a day's head is said; the rest stays.
struct HeadText {
    std::optional<std::string> name, date, lost_picture, field;
    std::optional<double> usual_minutes, power_limit_dbm;
    bool is_without_limit = false;
    std::optional<MapPoint> origin;
};

/// Places and areas that are taken away.
struct GoneText {
    std::vector<std::string> places, areas;
};

Result<std::string> toml_of(const HeadText& head);
Result<std::string> toml_of(const GoneText& gone);
Result<std::string> toml_of(const PilotText& pilot);
Result<std::string> toml_of(const RelayText& relay);
Result<std::string> toml_of(const EmitterText& emitter);
/// With `map`, where they are on it, in the place of their metres.
Result<std::string> toml_of(const v1::Place& place, const std::optional<MapPoint>& map = {});
Result<std::string> toml_of(const v1::Area& area, const std::optional<MapPoint>& map = {});
/// Places as a map has them, all at once; with `origin`, the field's too.
struct PlaceOnMap {
    std::string name;
    MapPoint at;
};
Result<std::string> toml_of(const std::vector<PlaceOnMap>& places, double height_m,
                            const std::optional<MapPoint>& origin);

/// [receiver.NAME], with where each value comes from.
Result<std::string> toml_of(const v1::ReceiverProfile& profile);

/// A text in its quotes, for a place in a file that is written otherwise.
Result<std::string> toml_of(std::string_view text);

}  // namespace fieldpeg::book
