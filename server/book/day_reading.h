#pragma once

#include "server/book/channels.h"
#include "server/book/lookalikes.h"
#include "server/book/names.h"
#include "server/book/reader.h"

#include "fieldpeg/v1/day.pb.h"

#include <fmt/format.h>

#include <optional>
#include <set>
#include <string>
#include <string_view>
#include <utility>
#include <vector>

/// The parts of reading a day file, one a kind of table. What is wrong goes on the list of the
/// table's reader.
namespace fieldpeg::book {

/// What a file says of a relay before relays are read: needed to know what receivers may hear.
struct RelayOf {
    std::string name, owner;
};

/// What has been read so far and what later tables may refer to.
struct DayReading {
    explicit DayReading(const toml::table& file);

    v1::Library gear;  ///< the library, and what the file defines
    ChannelNames channels;
    std::vector<RelayOf> relays;
    v1::DaySheet sheet;
    std::set<std::string> people, places, areas;          ///< the keys of names that the file gives
    std::vector<std::pair<std::string, Skeleton>> looks;  ///< of people, and of what is named so
    bool claims_welcome = true;
};

/// What an antenna is fastened to: an aircraft's heading is unknown, a head follows the aircraft.
enum class Carrier { aircraft, ground, person };

/// What was taken to be so where the file is silent.
using Defaults = google::protobuf::RepeatedPtrField<std::string>;

/// Whose a receiver is, which of theirs, and those before it.
struct ReceiverOf {
    std::string holder;
    bool is_pilot;      ///< who may hear relays; a relay hears its owner's video
    std::size_t index;  ///< counted from 1
    const google::protobuf::RepeatedPtrField<v1::Receiver>& others;
};

void read_field(Reader& r, DayReading& day);
/// A field's name and where it is; what is not written stays.
void read_field_head(Reader& r, Need need, v1::Field& field);
void read_places(Reader& r, DayReading& day);
void read_emitter(Reader& r, DayReading& day);
void read_pilot(Reader& r, DayReading& day);
void read_relay(Reader& r, DayReading& day);

/// `what` names the part to people where something is taken to be so.
v1::Transmitter read_transmitter(Reader& r, const DayReading& day, const std::string& what,
                                 Carrier carrier, Defaults& defaults);
v1::Mounting read_mounting(Reader& r, const DayReading& day, const std::string& what,
                           Carrier carrier, Defaults& defaults);
v1::Receiver read_receiver(Reader& r, const DayReading& day, const ReceiverOf& whose,
                           Defaults& defaults);
/// The ground side of a pilot's two-way system, what they steer with, and what hears that. `pilot`
/// is the pilot as read so far.
v1::Emitter read_uplink(Reader& r, const DayReading& day, const v1::Pilot& pilot,
                        Defaults& defaults);
v1::Emitter read_handset(Reader& r, const DayReading& day, Defaults& defaults);
v1::ControlReceiver read_control(Reader& r, const DayReading& day, const v1::Pilot& pilot,
                                 Defaults& defaults);
std::optional<v1::Claim> read_claim(Reader& r, const DayReading& day,
                                    const v1::Transmitter& transmitter);

/// What its owner has measured, so that it is no guess any more: some of `words`.
void read_measured(Reader& r, const std::vector<std::string>& words,
                   google::protobuf::RepeatedPtrField<std::string>& into);
/// How a transmitter's harmonics are kept down: harmonics_db = [second, third], and a filter.
void read_harmonics(Reader& r, v1::Transmitter& t);
/// A channel as it is written: a text, or MHz as a number.
std::optional<std::string> read_channel_text(Reader& r, std::string_view key, Need need);
void read_channels(Reader& r, const DayReading& day,
                   google::protobuf::RepeatedPtrField<v1::Channel>& into);
/// The values of KEY_mw or KEY_dbm, in dBm.
std::vector<double> read_powers(Reader& r, const std::string& key, std::size_t most);
/// A sentence that somebody reads whose picture is gone.
std::string read_lost_picture(Reader& r);
/// Whether "none" stands there, in the place of a number.
bool is_none(Reader& r, std::string_view key);
/// How long a flight usually is, in whole minutes; 0 where it is not said.
std::uint32_t read_usual_minutes(Reader& r);
/// The name of a place that the field has; empty if none is written, or none is called so.
std::string read_place_name(Reader& r, const DayReading& day, std::string_view key,
                            Need need = Need::optional);

/// Puts all gear that the sheet uses on it, and nothing else of the library.
void put_used_gear(DayReading& day);

/// Sorted by line, and not more than anybody reads.
void tidy(Problems& problems, const std::string& file);

/// One of a list by its name; if there is none, that is a problem.
template <class List>
auto known(Reader& r, std::string_view key, const std::string& written, const List& list,
           std::string_view kind) -> decltype(&*list.begin()) {
    const auto* found = find_named(list, written);
    if (!found)
        r.problem(key, fmt::format("no {} is called '{}'", kind, printable(written)),
                  list.empty() ? fmt::format("a {} that exists", kind) : "",
                  r.suggestion(written, names_of(list)));
    return found;
}

/// Takes a name; one that is taken already is a problem.
void take_name(Reader& r, std::set<std::string>& taken, const std::string& name);
/// The same of somebody, or of what is called as somebody is; one that deceives is a problem.
void take_name_of(Reader& r, DayReading& day, const std::string& name);

/// Where one of this name goes: in the place of one that has it, or at the end.
template <class List>
auto& place_named(List& list, const std::string& name) {
    for (auto& one : list)
        if (!name.empty() && name_key(one.name()) == name_key(name)) return one;
    return *list.Add();
}

}  // namespace fieldpeg::book
