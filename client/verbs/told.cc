#include "client/verbs/verb.h"

namespace fieldpeg::verbs {
namespace {

struct Options {
    Common common;
    std::vector<std::uint64_t> numbers;
};

int told(const Options& options) {
    for (const auto number : options.numbers) {
        v1::Command command;
        command.mutable_acknowledge_warning()->set_warning(number);
        const int status = tell_and_print(options.common, command);
        if (status != done) return status;
    }
    return done;
}

}  // namespace

void add_told(Verb& program, Run& run) {
    const auto options = std::make_shared<Options>();
    auto verb = program.verb("told", "The marshal has called a warning out: it leaves the board");
    verb.value("NUMBER", options->numbers, "as the board shows it after the sentence").required();
    add_course(verb, options->common);
    verb.footer(
        "A warning also leaves the board when what caused it is switched off.\n"
        "Example:\n"
        "  fieldpeg told 17 18");
    verb.callback([options, &run] { run = [options] { return told(*options); }; });
}

}  // namespace fieldpeg::verbs
