#include "client/verbs/verb.h"
#include "server/book/names.h"

#include <fmt/format.h>
#include <spdlog/sinks/stdout_sinks.h>
#include <spdlog/spdlog.h>

#include <algorithm>
#include <iostream>
#include <string>
#include <vector>

namespace fieldpeg::verbs {
namespace {

/// The program's own diagnostics go to stderr; the answer is alone on stdout.
void set_up_log(bool verbose) {
    spdlog::set_default_logger(spdlog::stderr_logger_st("fieldpeg"));
    spdlog::set_pattern("%n: %l: %v");
    spdlog::set_level(verbose ? spdlog::level::debug : spdlog::level::warn);
}

/// What CLI11 has to say, with a suggestion where a verb was mistyped; exit status 2 for all that
/// is wrong.
int say(const CLI::App& program, const CLI::ParseError& error, const std::string& first) {
    if (error.get_exit_code() == 0) return program.exit(error);  // --help, --version
    std::vector<std::string> known;
    for (const auto* verb : program.get_subcommands({})) known.push_back(verb->get_name());
    const bool is_verb = std::ranges::find(known, first) != known.end();
    if (!first.empty() && first[0] != '-' && !is_verb) {
        const auto near = book::nearest(first, known);
        std::cerr << fmt::format("fieldpeg: '{}' is no verb{}\n", book::printable(first),
                                 near.empty() ? "" : fmt::format("; did you mean '{}'?", near));
    } else if (first.empty()) {
        std::cerr << fmt::format("fieldpeg: which verb? One of {}\n", fmt::join(known, ", "));
    } else {
        std::cerr << "fieldpeg: " << error.what() << '\n';
    }
    std::cerr << "  see: fieldpeg --help\n";
    return bad_input;
}

}  // namespace

int run(int argc, char** argv) {
    CLI::App program(
        "Fieldpeg: who flies on which video channel, with what power, and who can see.",
        "fieldpeg");
    program.require_subcommand(1);
    bool verbose = false;
    program.add_flag("-v,--verbose", verbose, "say on stderr what is being done");
    program.set_version_flag("--version", "fieldpeg " FIELDPEG_VERSION);
    program.footer(
        "'fieldpeg VERB --help' says more. Exit status: 0 done, 1 failed, 2 bad input,\n"
        "3 refused or somebody shaky or in a clash, 4 no answer from the server.");
    Run verb;
    add_new(program, verb);
    add_check(program, verb);
    add_explain(program, verb);
    add_relay(program, verb);
    add_gear(program, verb);
    add_channels(program, verb);
    add_join(program, verb);
    add_board(program, verb);
    add_watch(program, verb);
    add_claim(program, verb);
    add_release(program, verb);
    add_on(program, verb);
    add_off(program, verb);
    add_seen(program, verb);
    add_allow(program, verb);
    add_pilot(program, verb);
    add_field(program, verb);
    add_rules(program, verb);
    add_log(program, verb);
    add_ready(program, verb);
    add_ticket(program, verb);
    add_told(program, verb);
    for (auto* each : program.get_subcommands({})) each->fallthrough();  // -v after the verb
    try {
        program.parse(argc, argv);
    } catch (const CLI::ParseError& error) {
        return say(program, error, argc > 1 ? argv[1] : "");
    }
    set_up_log(verbose);
    return verb();
}

}  // namespace fieldpeg::verbs
