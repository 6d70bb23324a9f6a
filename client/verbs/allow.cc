#include "client/verbs/verb.h"

namespace fieldpeg::verbs {
namespace {

struct AllowOptions {
    Common common;
    std::string who, channel, power, reason;
    bool on = false;
};

int allow_claim(const AllowOptions& options) {
    v1::Command command;
    auto& ask = *command.mutable_claim();
    ask.set_transmitter(options.who);
    ask.set_allowed_because(options.reason);
    if (!set_channel("CHANNEL", options.channel, ask) || !set_power("--power", options.power, ask))
        return bad_input;
    return tell_and_print(options.common, command);
}

int allow_on(const AllowOptions& options) {
    v1::Command command;
    command.mutable_on()->set_transmitter(options.who);
    command.mutable_on()->set_allowed_because(options.reason);
    return tell_and_print(options.common, command);
}

}  // namespace

void add_allow(Verb& program, Run& run) {
    const auto options = std::make_shared<AllowOptions>();
    auto verb = program.verb("allow",
                             "The marshal lets somebody have what harms another; the log says why");
    verb.value("NAME", options->who, "a pilot or a relay").required();
    verb.value("CHANNEL", options->channel, "what it may hold");
    verb.value("--power", options->power, "at which power").type_name("POWER");
    verb.flag("--on", options->on, "it may switch on what it holds");
    verb.value("--because", options->reason, "the reason, for the log and for those who pay")
        .type_name("TEXT")
        .required();
    add_course(verb, options->common);
    verb.footer(
        "Those whose picture it costs are warned by name. Holding and switching on are two "
        "questions:\n"
        "switching on still waits for whoever is on the air by then, unless --on allows it too.\n"
        "Examples:\n"
        "  fieldpeg allow Ben R4 --because \"Ann has landed for the day\"\n"
        "  fieldpeg allow Ben --on --because \"Ann agrees\"");
    verb.callback([options, &run] {
        run = [options] {
            if (options->channel.empty() != options->on)
                return say_bad_input(
                    "allow", "name a channel to hold, or --on to switch on; one of the two");
            return options->on ? allow_on(*options) : allow_claim(*options);
        };
    });
}

}  // namespace fieldpeg::verbs
