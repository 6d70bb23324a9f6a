#include "client/show/json.h"
#include "client/verbs/verb.h"

namespace fieldpeg::verbs {
namespace {

struct OffOptions {
    Common common;
    std::string who;
    bool down = false;
    bool silent = false;
    bool yes = false;
    bool not_after_all = false;
    std::string near;
};

int off(const OffOptions& options) {
    v1::Command command;
    auto& ask = *command.mutable_off();
    ask.set_transmitter(options.who);
    ask.set_down(options.down);
    ask.set_silent(options.silent);
    ask.set_yes_anyway(options.yes);
    ask.set_not_after_all(options.not_after_all);
    ask.set_near(options.near);
    const auto opened = open_course(options.common, Access::write);
    if (!opened.link) return opened.status;
    auto reply = opened.link->send(command);
    // A fact that nobody heard is said again; the usual words are about switching on.
    if (reply.refusal().kind() == v1::Refusal::no_answer) {
        reply.mutable_refusal()->set_next("not noted: say it again when the server answers");
        if (options.common.json) print(show::json_text(reply));
        return say_refusal(reply.refusal());
    }
    return print_sent(reply, opened.link->now_ms(), options.common.json);
}

}  // namespace

void add_off(Verb& program, Run& run) {
    const auto options = std::make_shared<OffOptions>();
    auto verb = program.verb("off", "Say that it is off the air");
    verb.value("NAME", options->who,
               "a relay of yours; the marshal: anybody; default: your own aircraft");
    const auto down = verb.flag("--down", options->down,
                                "crashed or lost, perhaps still radiating: keeps its channel");
    verb.flag("--silent", options->silent, "it was down and is now known to be silent")
        .excludes(down);
    verb.flag("--yes", options->yes, "even if a picture on the air goes with this relay");
    verb.value("--near", options->near, "with --down: where it lies, as far as anybody saw")
        .type_name("TEXT");
    verb.flag("--not-after-all", options->not_after_all, "it was told to switch on and was not")
        .excludes(down);
    add_course(verb, options->common);
    verb.footer(
        "Examples:\n"
        "  fieldpeg off\n"
        "  fieldpeg off --down --near 'tall grass, 200 m north-east'\n"
        "  fieldpeg off --silent");
    verb.callback([options, &run] { run = [options] { return off(*options); }; });
}

}  // namespace fieldpeg::verbs
