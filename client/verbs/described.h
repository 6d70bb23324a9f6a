#pragma once

#include <string>
#include <vector>

namespace CLI {  // NOLINT(readability-identifier-naming): that library's own
class App;
}  // namespace CLI

namespace fieldpeg::verbs {

/// A flag or a value of a command line, as it was defined once (arguments.h).
struct Flag {
    std::vector<std::string> names;  ///< "-v", "--verbose"; of a value by its place: "CHANNEL"
    std::string value;               ///< what stands for its value: FILE, NAME; empty: it has none
    std::string what;
    std::vector<std::string> choices;  ///< all that it may be, where that is few words
    bool by_place = false;
    bool is_required = false;
    bool is_many = false;
};

/// A program or a verb of it.
struct Program {
    std::string name;
    std::string what;
    std::string footer;
    std::vector<Flag> flags;
    std::vector<Program> verbs;

    /// Null: it has no such verb.
    const Program* verb(const std::string& called) const;
};

/// The one definition, as data: whatever tells of the command line is made of this.
Program described(const CLI::App& app);

}  // namespace fieldpeg::verbs
