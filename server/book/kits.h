#pragma once

#include "server/book/problem.h"

#include "fieldpeg/v1/gear.pb.h"

#include <toml++/toml.h>

#include <string>

/// Gear that is entered by one name: [kit.NAME] in a day file or of the library, and `kit = "NAME"`
/// in a pilot. A kit has the tables of a pilot (video, receiver, uplink, handset, control, relay);
/// what the pilot writes beside it goes before.
namespace fieldpeg::book {

using Kits = google::protobuf::RepeatedPtrField<v1::Kit>;

inline constexpr std::size_t kits_max = 200;
/// Of its gear as TOML: it is copied into every pilot who names it.
inline constexpr std::size_t kit_bytes_max = 4096;

/// The [kit.NAME] tables of a file, each in the place of one of its name among `into`. The tables
/// leave the file.
void take_kits(toml::table& file, const std::string& name, Kits& into, Problems& problems);

/// Puts what kits bring into the pilots of a file who name one: as if they had written it. A relay
/// that a kit brings becomes a [[relay]] of its owner, at the pilot's `relay_place`. The day's own
/// kits, with those of the file, go before the library's, and come back.
Kits unpack_kits(toml::table& file, const std::string& name, const Kits& library,
                 const Kits& of_day, Problems& problems);

}  // namespace fieldpeg::book
