#pragma once

#include "fieldpeg/v1/event.pb.h"

#include <cstdint>
#include <optional>
#include <string>
#include <string_view>
#include <type_traits>
#include <vector>

namespace fieldpeg::day {

/// One transmitter of a day as a claim sees it: a pilot's aircraft, or a relay. Refers to the
/// sheet.
struct Holder {
    std::uint32_t id;
    std::string name;
    std::uint32_t owner;  ///< the pilot's id
    std::string owner_name;
    bool is_relay;
    const v1::Transmitter* gear;  ///< null: a pilot without a transmitter
    const v1::Claim* claim;       ///< null: holds nothing
    std::uint32_t last_group;     ///< of what a change of gear cost them; 0: none

    bool radiates() const;  ///< on air, on the bench, or down and not known to be silent
    bool is_in_the_air() const;
};

/// Calls `take` with each pilot, then with each relay, of a day or of parts of one: whatever may
/// hold a channel.
template <class Day, class Take>
void for_each_holder(Day& day, Take take) {
    if constexpr (std::is_const_v<Day>) {
        for (const auto& pilot : day.pilots()) take(pilot);
        for (const auto& relay : day.relays()) take(relay);
    } else {
        for (auto& pilot : *day.mutable_pilots()) take(pilot);
        for (auto& relay : *day.mutable_relays()) take(relay);
    }
}

std::optional<Holder> holder(const v1::DaySheet& sheet, std::string_view name);
std::optional<Holder> holder(const v1::DaySheet& sheet, std::uint32_t id);

const v1::Pilot* pilot(const v1::DaySheet& sheet, std::uint32_t id);
const v1::Pilot* pilot(const v1::DaySheet& sheet, std::string_view name);
const v1::Relay* relay(const v1::DaySheet& sheet, std::uint32_t id);
const v1::Relay* relay(const v1::DaySheet& sheet, std::string_view name);
const v1::Emitter* emitter(const v1::DaySheet& sheet, std::string_view name);
const v1::Person* person(const v1::DayState& state, std::uint32_t id);
const v1::Person* person(const v1::DayState& state, std::string_view name);

/// Whether somebody waits for the marshal's nod.
bool is_waiting(const v1::Person& person);

/// The claim of a transmitter, made if there was none. Requires that the sheet has it.
v1::Claim& claim_of(v1::DaySheet& sheet, std::uint32_t subject);
void drop_claim(v1::DaySheet& sheet, std::uint32_t subject);

/// Whether a stage is one in which something is radiated, or may be.
bool radiates(v1::Claim::Stage stage);

/// How long a flight of a pilot usually is.
std::int64_t usual_ms(const v1::DaySheet& sheet, std::uint32_t pilot);

/// Whether it flies, or may by now: on the air, or told to switch on.
bool is_in_the_air(v1::Claim::Stage stage);
/// The same, or on the bench: somebody can switch it off.
bool is_switched_on(v1::Claim::Stage stage);
/// Whether nobody has said yet that it is on.
bool is_to_be_confirmed(const v1::Claim& claim);

/// Who is in the air in the area of a pilot, but for themself.
std::vector<std::string> who_flies_over(const v1::DaySheet& sheet, const v1::Pilot& pilot);

/// Whether a claim is of one flight group only: neither always on, nor down, which nobody can call
/// back.
bool is_of_one_group(const v1::Claim& claim);

/// The sheet when one flight group flies: without the claims of other groups, but for what is
/// down, which nobody can call back. 0: everybody at once.
v1::DaySheet of_group(const v1::DaySheet& sheet, std::uint32_t group);

/// A day from its sheet, before anybody has joined: everything gets an id.
v1::DaySheet with_ids(v1::DaySheet sheet, std::uint32_t& last_id);

}  // namespace fieldpeg::day
