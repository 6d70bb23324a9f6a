#pragma once

#include "fieldpeg/v1/gear.pb.h"

#include <cstddef>

namespace fieldpeg::book {

class Reader;

/// The gear library, channel rows and rule sets that come with the program. Read once.
/// Throws std::logic_error if they are not right: then the program was built wrong.
const v1::Library& library();

/// Most definitions of one kind in one file: each is held against those before it.
inline constexpr std::size_t gear_max = 200;

/// Whether values must say where they come from: the library's must, a day file's may.
enum class Sourced { must, may };

/// Reads the [emission.NAME], [receiver.NAME], [antenna.NAME], [control_link.NAME] and
/// [positioning_receiver.NAME] tables of a file into `into`, each replacing one of its name.
void read_gear(Reader& file, Sourced sourced, v1::Library& into);

/// The same for channel rows, rule sets and services.
void read_rows(Reader& file, v1::Library& into);
void read_rules(Reader& file, v1::Library& into);

}  // namespace fieldpeg::book
