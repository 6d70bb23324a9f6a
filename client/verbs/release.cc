#include "client/verbs/verb.h"

namespace fieldpeg::verbs {
namespace {

struct ReleaseOptions {
    Common common;
    std::string who, reason;
};

int release(const ReleaseOptions& options) {
    v1::Command command;
    command.mutable_release()->set_transmitter(options.who);
    command.mutable_release()->set_reason(options.reason);
    return tell_and_print(options.common, command);
}

}  // namespace

void add_release(Verb& program, Run& run) {
    const auto options = std::make_shared<ReleaseOptions>();
    auto verb = program.verb("release", "Give a channel back");
    verb.value("NAME", options->who, "a relay of yours; the marshal: anybody; default: yourself");
    verb.value("--because", options->reason, "for the log").type_name("TEXT");
    add_course(verb, options->common);
    verb.footer(
        "What is on the air is not given back: off first.\n"
        "Example:\n"
        "  fieldpeg release");
    verb.callback([options, &run] { run = [options] { return release(*options); }; });
}

}  // namespace fieldpeg::verbs
