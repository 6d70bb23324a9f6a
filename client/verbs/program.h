#pragma once

namespace fieldpeg::verbs {

/// The whole program `fieldpeg`: reads the command line, runs the verb, gives the exit status.
int run(int argc, char** argv);

}  // namespace fieldpeg::verbs
