#include "server/book/sweep.h"
#include "client/show/day.h"
#include "client/show/replies.h"
#include "client/verbs/parts.h"
#include "client/verbs/verb.h"

#include <iostream>

namespace fieldpeg::verbs {
namespace {

struct SweepOptions {
    Common common;
    std::string file, note;
    bool use_floor = false, only_try = false;
};

int sweep(const SweepOptions& options) {
    const auto text = read_text(options.file);
    if (!text) return bad_input;
    book::Problems problems;
    const auto read = book::read_sweep(*text, options.file, problems);
    if (!read) {
        for (const auto& problem : problems) std::cerr << book::to_string(problem) << '\n';
        std::cerr << "fieldpeg: nothing was entered\n";
        return bad_input;
    }
    v1::Command command;
    auto& ask = *command.mutable_sweep();
    *ask.mutable_sweep() = *read;
    ask.mutable_sweep()->set_note(options.note);
    ask.set_use_floor(options.use_floor);
    ask.set_only_try(options.only_try);
    return tell_and_print(options.common, command);
}

}  // namespace

void add_sweep(Verb& program, Run& run) {
    const auto options = std::make_shared<SweepOptions>();
    auto verb = program.verb("sweep", "What a scanner measured, beside what is claimed");
    verb.value("FILE", options->file,
               "a table of frequency and level, units in its header; - for standard input")
        .required();
    verb.value("--note", options->note, "where it was measured, with what").type_name("TEXT");
    verb.flag("--use-floor", options->use_floor,
              "the marshal: its noise floor counts for the day where it is above the assumed one");
    verb.flag("--try", options->only_try, "only say what it shows, enter nothing");
    add_course(verb, options->common);
    verb.footer(
        "Names what is on the air and nobody holds, and who is on the air by the log and is not\n"
        "heard. It goes on the log, and into 'picture spectrum'.\n"
        "A file begins with its header, and has a line for each frequency, rising:\n"
        "  # resolution_khz = 250\n"
        "  frequency_mhz,level_dbm\n"
        "  5645.0,-97.2\n"
        "Examples:\n"
        "  fieldpeg sweep noon.csv --note 'at the line, stick aerial'\n"
        "  fieldpeg sweep noon.csv --try");
    verb.callback([options, &run] { run = [options] { return sweep(*options); }; });
}

}  // namespace fieldpeg::verbs
