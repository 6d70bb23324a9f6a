#pragma once

#include "client/verbs/described.h"

namespace fieldpeg::verbs {

/// The whole program `fieldpeg`: reads the command line, runs the verb, gives the exit status.
int run(int argc, char** argv);

/// What `--help`, the manual page, completion and tests know of it.
Program described();

}  // namespace fieldpeg::verbs
