#include "client/link/log_file.h"
#include "client/show/day.h"
#include "client/show/json.h"
#include "client/show/times.h"
#include "client/verbs/verb.h"

#include <fmt/format.h>

#include <iostream>
#include <string>

/// What is done with a log as a file: held against itself, and saved from itself.
namespace fieldpeg::verbs {
namespace {

struct LogFileOptions {
    Common common;
    std::string file, to;
};

int verify(const LogFileOptions& options) {
    const auto reply = link::verified(options.file);
    if (!reply) return say_refusal(reply.error());
    const auto text = options.common.json ? show::json_text(*reply)
                                          : show::log_standing_text(*reply, show::look_of_stdout());
    if (!print(text)) return failed;
    if (reply->verified()) return done;
    std::cerr << fmt::format(
        "fieldpeg: {}: does not hold\n"
        "  keep it as it is; what stands before the first bad entry: fieldpeg log salvage FILE "
        "--to NEW.daylog\n",
        options.file);
    return failed;
}

int salvage(const LogFileOptions& options) {
    const auto saved = link::salvage(options.file, options.to);
    if (!saved) return say_refusal(saved.error());
    auto text = fmt::format("{}: {} entries, to {}; head {}\n", options.to, saved->entries,
                            show::date_time_text(saved->at_ms), saved->head_hash.substr(0, 16));
    text += saved->fault.empty()
                ? "Nothing of the log is wrong: all its entries are in it.\n"
                : fmt::format("It ends where the log is wrong: {}\n", saved->fault);
    for (const auto& lost : saved->lost) text += lost + '\n';
    return print(text) ? done : failed;
}

void add_verify(Verb& log, Run& run) {
    const auto options = std::make_shared<LogFileOptions>();
    auto verb = log.verb("verify", "Whether a log is what was written, from first to last");
    verb.value("FILE", options->file, "the log itself: saturday.daylog").required();
    add_json(verb, options->common);
    verb.footer(
        "Holds the chain of hashes, what stands beside the records (time, kind, who, frequency,\n"
        "power) against them, and the file. Works beside a running server, and on a copy.\n"
        "An end that was cut off whole is not seen unless an answer speaks of it: hold the head\n"
        "against the one that was noted.\n"
        "Exit status 0: it holds, 1: it does not, 2: it is no day log.\n"
        "Example:\n"
        "  fieldpeg log verify saturday.daylog");
    verb.callback([options, &run] { run = [options] { return verify(*options); }; });
}

void add_salvage(Verb& log, Run& run) {
    const auto options = std::make_shared<LogFileOptions>();
    auto verb = log.verb("salvage", "Save what stands before a log's first bad entry");
    verb.value("FILE", options->file, "the damaged log; it stays as it is").required();
    verb.value("--to", options->to, "the new log; it may not be there yet")
        .type_name("NEW")
        .required();
    verb.footer(
        "With the chain, names, keys, tickets and answers, as far as they can be read and belong\n"
        "to the entries that are saved. The day goes on from the new log.\n"
        "Exit status 1: nothing can be saved, 3: NEW is there already.\n"
        "Example:\n"
        "  fieldpeg log salvage damaged.daylog --to saturday.daylog");
    verb.callback([options, &run] { run = [options] { return salvage(*options); }; });
}

}  // namespace

void add_log_file(Verb& log, Run& run) {
    add_verify(log, run);
    add_salvage(log, run);
}

}  // namespace fieldpeg::verbs
