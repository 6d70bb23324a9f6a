#include "client/verbs/verb.h"

namespace fieldpeg::verbs {
namespace {

struct HandOverOptions {
    Common common;
    std::string name;
};

int hand_over(const HandOverOptions& options) {
    v1::Command command;
    command.mutable_hand_over()->set_name(options.name);
    return tell_and_print(options.common, command);
}

}  // namespace

void add_hand_over(Verb& program, Run& run) {
    const auto options = std::make_shared<HandOverOptions>();
    auto verb = program.verb("hand-over", "The marshal: somebody else is the marshal from now on");
    verb.value("NAME", options->name, "who has joined, with whatever ticket").required();
    add_course(verb, options->common);
    verb.footer(
        "You are a pilot from then on if you fly, else an onlooker. For a second marshal beside "
        "you\n"
        "make a ticket instead: fieldpeg ticket marshal.\n"
        "Example:\n"
        "  fieldpeg hand-over Edda");
    verb.callback([options, &run] { run = [options] { return hand_over(*options); }; });
}

}  // namespace fieldpeg::verbs
