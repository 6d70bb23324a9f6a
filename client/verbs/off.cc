#include "client/verbs/verb.h"

namespace fieldpeg::verbs {
namespace {

struct Options {
    Common common;
    std::string who;
    bool down = false;
    bool silent = false;
    bool yes = false;
};

int off(const Options& options) {
    v1::Command command;
    auto& ask = *command.mutable_off();
    ask.set_transmitter(options.who);
    ask.set_down(options.down);
    ask.set_silent(options.silent);
    ask.set_yes_anyway(options.yes);
    return tell_and_print(options.common, command);
}

}  // namespace

void add_off(Verb& program, Run& run) {
    const auto options = std::make_shared<Options>();
    auto verb = program.verb("off", "Say that it is off the air");
    verb.value("NAME", options->who,
               "a relay of yours; the marshal: anybody; default: your own aircraft");
    const auto down = verb.flag("--down", options->down,
                                "crashed or lost, perhaps still radiating: keeps its channel");
    verb.flag("--silent", options->silent, "it was down and is now known to be silent")
        .excludes(down);
    verb.flag("--yes", options->yes, "even if a picture on the air goes with this relay");
    add_course(verb, options->common);
    verb.footer(
        "Examples:\n"
        "  fieldpeg off\n"
        "  fieldpeg off --down\n"
        "  fieldpeg off --silent");
    verb.callback([options, &run] { run = [options] { return off(*options); }; });
}

}  // namespace fieldpeg::verbs
