#include "client/verbs/program.h"
#include "client/show/times.h"
#include "client/verbs/arguments.h"
#include "client/verbs/described.h"
#include "client/verbs/verb.h"
#include "server/book/names.h"

#include <fmt/format.h>
#include <spdlog/sinks/stdout_sinks.h>
#include <spdlog/spdlog.h>
#include <CLI/CLI.hpp>

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
    for (const auto* verb : program.get_subcommands({}))
        if (!verb->get_group().empty()) known.push_back(verb->get_name());
    const bool is_verb = std::ranges::find(known, first) != known.end();
    if (!first.empty() && first[0] != '-' && !is_verb) {
        const auto near = book::nearest(first, known);
        std::cerr << fmt::format("fieldpeg: '{}' is not a verb{}\n", book::printable(first),
                                 near.empty() ? "" : fmt::format("; did you mean '{}'?", near));
    } else if (first.empty()) {
        std::cerr << fmt::format("fieldpeg: which verb? One of {}\n", fmt::join(known, ", "));
    } else {
        std::cerr << "fieldpeg: " << error.what() << '\n';
    }
    std::cerr << "  see: fieldpeg --help\n";
    return bad_input;
}

void add_all(Verb& verbs, Run& verb) {
    add_new(verbs, verb);
    add_day(verbs, verb);
    add_check(verbs, verb);
    add_explain(verbs, verb);
    add_reach(verbs, verb);
    add_relay(verbs, verb);
    add_gear(verbs, verb);
    add_kits(verbs, verb);
    add_channels(verbs, verb);
    add_join(verbs, verb);
    add_board(verbs, verb);
    add_watch(verbs, verb);
    add_claim(verbs, verb);
    add_release(verbs, verb);
    add_on(verbs, verb);
    add_off(verbs, verb);
    add_seen(verbs, verb);
    add_sweep(verbs, verb);
    add_allow(verbs, verb);
    add_pilot(verbs, verb);
    add_field(verbs, verb);
    add_rules(verbs, verb);
    add_log(verbs, verb);
    add_ready(verbs, verb);
    add_ticket(verbs, verb);
    add_group(verbs, verb);
    add_line(verbs, verb);
    add_find(verbs, verb);
    add_hand_over(verbs, verb);
    add_told(verbs, verb);
    add_plan(verbs, verb);
    add_rota(verbs, verb);
    add_picture(verbs, verb);
    add_report(verbs, verb);
    add_archive(verbs, verb);
    add_pegs(verbs, verb);
}

/// What there is to be said of it, whatever it is asked.
void set_up(CLI::App& program, bool& verbose) {
    program.require_subcommand(1);
    program.add_flag("-v,--verbose", verbose, "say on stderr what is being done");
    program.set_version_flag("--version", "fieldpeg " FIELDPEG_VERSION);
    program.footer(
        "'fieldpeg VERB --help' says more, 'fieldpeg help' has the guides. Exit status: 0 done,\n"
        "1 failed, 2 bad input, 3 refused, or control at risk, or somebody shaky or in a clash,\n"
        "4 no answer.");
}

/// What --help says behind these words; empty where they are no verb.
std::string help_of(const CLI::App& program, const std::vector<std::string>& words) {
    const auto* at = &program;
    std::string before = "fieldpeg";
    for (const auto& word : words) {
        const auto next =
            at->get_subcommands([&](const CLI::App* verb) { return verb->get_name() == word; });
        if (next.empty()) return "";
        if (at != &program) before += " " + at->get_name();
        at = next.front();
    }
    return at->help(before);
}

constexpr const char* what_it_is =
    "Fieldpeg: who flies on which video channel, with what power, and who can see.";

}  // namespace

Program described() {
    CLI::App program(what_it_is, "fieldpeg");
    bool verbose = false;
    set_up(program, verbose);
    Run verb;
    Verb verbs(&program);
    add_all(verbs, verb);
    add_help(verbs, verb, [](const auto&) { return std::string(); });
    add_complete(verbs, verb);
    return described(program);
}

int run(int argc, char** argv) {
    CLI::App program(what_it_is, "fieldpeg");
    bool verbose = false;
    set_up(program, verbose);
    Run verb;
    Verb verbs(&program);
    add_all(verbs, verb);
    add_help(verbs, verb, [&](const auto& words) { return help_of(program, words); });
    add_complete(verbs, verb);
    for (auto* each : program.get_subcommands({})) each->fallthrough();  // -v after the verb
    try {
        program.parse(argc, argv);
    } catch (const CLI::ParseError& error) {
        return say(program, error, argc > 1 ? argv[1] : "");
    }
    set_up_log(verbose);
    if (const auto doubt = show::zone_doubt()) spdlog::warn(*doubt);
    return verb();
}

}  // namespace fieldpeg::verbs
