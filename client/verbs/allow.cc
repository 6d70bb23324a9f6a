#include "client/show/day.h"
#include "client/verbs/verb.h"

namespace fieldpeg::verbs {
namespace {

struct Options {
    Common common;
    std::string who, channel, power, reason;
    bool on = false;
};

int allow_claim(const Options& options) {
    v1::Command command;
    auto& ask = *command.mutable_claim();
    ask.set_transmitter(options.who);
    ask.set_allowed_because(options.reason);
    const auto channel = channel_argument("CHANNEL", options.channel);
    if (!channel) return bad_input;
    *ask.mutable_channel() = *channel;
    if (!options.power.empty()) {
        const auto power = power_argument("--power", options.power);
        if (!power) return bad_input;
        ask.set_power_dbm(*power);
    }
    const auto told = tell(options.common, command);
    if (told.status != done) return told.status;
    return print_reply(told.reply, options.common.json,
                       show::claim_text(told.reply.claim(), show::look_of_stdout()));
}

int allow_on(const Options& options) {
    v1::Command command;
    command.mutable_on()->set_transmitter(options.who);
    command.mutable_on()->set_allowed_because(options.reason);
    const auto told = tell(options.common, command);
    if (told.status != done) return told.status;
    if (told.reply.has_done())
        return print_reply(told.reply, options.common.json, told.reply.done().text());
    return print_reply(
        told.reply, options.common.json,
        show::switch_text(told.reply.switched(), told.now_ms, show::look_of_stdout()));
}

}  // namespace

void add_allow(CLI::App& program, Run& run) {
    const auto options = std::make_shared<Options>();
    auto* verb = program.add_subcommand(
        "allow", "The marshal lets somebody have what harms another; the log says why");
    verb->add_option("NAME", options->who, "a pilot or a relay")->required();
    verb->add_option("CHANNEL", options->channel, "what it may hold");
    verb->add_option("--power", options->power, "at which power")->type_name("POWER");
    verb->add_flag("--on", options->on, "it may switch on what it holds");
    verb->add_option("--because", options->reason, "the reason, for the log and for those who pay")
        ->type_name("TEXT")
        ->required();
    add_course(*verb, options->common);
    verb->footer(
        "Those whose picture it costs are warned by name. To hold and to switch on are two "
        "questions:\n"
        "whoever is in the air by then is waited for, unless --on allows that too.\n"
        "Examples:\n"
        "  fieldpeg allow Ben R4 --because \"Ann has landed for the day\"\n"
        "  fieldpeg allow Ben --on --because \"Ann agrees\"");
    verb->callback([options, &run] {
        run = [options] {
            if (options->channel.empty() != options->on)
                return say_bad_input(
                    "allow", "name a channel to hold, or --on to switch on; one of the two");
            return options->on ? allow_on(*options) : allow_claim(*options);
        };
    });
}

}  // namespace fieldpeg::verbs
