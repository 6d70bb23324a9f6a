#pragma once

#include <string>

namespace CLI {  // NOLINT(readability-identifier-naming): that library's own
class App;
}  // namespace CLI

namespace fieldpeg {

/// What `fieldpegd` is told on its command line.
struct Options {
    std::string day;   ///< empty: day.toml, which need not be there
    std::string name;  ///< of an empty day; empty: by its file
    std::string listen = "0.0.0.0:7323";
    std::string host;
    std::string board;
    std::string board_identity;
    std::string log;
    bool verbose = false;
    bool begins_new = false;
    bool follow = false;
    bool no_discovery = false;
    bool renew_secrets = false;
};

/// Its command line: for the program, its help and its manual page. `options` must outlive it.
void add_options(CLI::App& program, Options& options);

}  // namespace fieldpeg
