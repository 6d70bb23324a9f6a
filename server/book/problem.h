#pragma once

#include <string>
#include <vector>

namespace fieldpeg::book {

/// One thing that is wrong with a written file, said so that its writer can mend it.
struct Problem {
    std::string file;        ///< empty: it is none that people know
    unsigned line = 0;       ///< counted from 1; 0: the file as a whole
    std::string key;         ///< where in the file: "pilot 'Ann', video, power_mw"
    std::string what;        ///< what is wrong
    std::string expected;    ///< what would be right
    std::string suggestion;  ///< the nearest known name, if one is near
};

/// "day.toml:12: pilot 'Ann', video, power_mw: what (expected; did you mean 'x'?)"
std::string to_string(const Problem& problem);

using Problems = std::vector<Problem>;

}  // namespace fieldpeg::book
