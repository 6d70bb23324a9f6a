#pragma once

#include "server/log/postgres.h"
#include "server/refusal/refusal.h"

namespace fieldpeg::log {

/// Makes the tables in a database that has none of ours. Refuses one whose tables are of a later
/// version of the program, or where we may not make them.
Result<void> make_tables(Database& database);

/// A refusal where there are no tables of ours, or those of another version.
Result<void> has_tables(Database& database);

}  // namespace fieldpeg::log
