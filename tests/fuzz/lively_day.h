#pragma once

#include "tests/support/kept_day.h"

#include "fieldpeg/v1/wire.pb.h"

#include <vector>

/// Where the fuzzers of messages begin: no proto bytes lie in the repository, they are made here.
namespace fieldpeg::fuzz {

/// A club's day in the midst of it, made once: one flies, one waits in the line, a relay is on that
/// nobody asked for, somebody waits for a nod, something was seen, a warning is not told yet.
testing::KeptDay& lively_day();

/// Commands and questions of every kind, as a client would send them.
const std::vector<v1::Command>& commands();
const std::vector<v1::Query>& queries();
/// What the server says to them, and a change.
const std::vector<v1::ServerFrame>& server_frames();

}  // namespace fieldpeg::fuzz
