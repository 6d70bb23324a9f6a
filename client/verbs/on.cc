#include "client/verbs/verb.h"

namespace fieldpeg::verbs {
namespace {

struct Options {
    Common common;
    std::string who, channel, power;
    bool bench = false;
    bool already = false;
    bool yes = false;
    bool out_of_turn = false;
};

int on(const Options& options) {
    v1::Command command;
    auto& ask = *command.mutable_on();
    ask.set_transmitter(options.who);
    ask.set_bench(options.bench);
    ask.set_already(options.already);
    ask.set_yes_anyway(options.yes);
    ask.set_out_of_turn(options.out_of_turn);
    if (!options.already && !(options.channel.empty() && options.power.empty()))
        return say_bad_input(
            "on",
            "--channel and --power go with --already; without it the channel you hold is meant");
    if (!set_channel("--channel", options.channel, ask) ||
        !set_power("--power", options.power, ask))
        return bad_input;
    return tell_and_print(options.common, command);
}

}  // namespace

void add_on(Verb& program, Run& run) {
    const auto options = std::make_shared<Options>();
    auto verb = program.verb("on", "Ask whether to switch on now, or say that it is on already");
    verb.value("NAME", options->who,
               "a relay of yours; the marshal: anybody; default: your own aircraft");
    verb.flag("--bench", options->bench, "on the bench, at bench power");
    verb.flag("--already", options->already, "it radiates: a fact, never refused");
    verb.value("--channel", options->channel,
               "with --already: where it radiates, if not on the channel held")
        .type_name("CHANNEL");
    verb.value("--power", options->power, "with --already").type_name("POWER");
    verb.flag("--yes", options->yes, "even if your own picture would be in trouble");
    verb.flag("--anyway", options->out_of_turn,
              "the marshal: though another flight group was called");
    add_course(verb, options->common);
    verb.footer(
        "The answer is 'switch on', 'wait' or 'ask the marshal'. A yes is good for a minute;\n"
        "later say 'off' and ask again. Without an answer: do not switch on unless the marshal "
        "says so.\n"
        "Exit status 3: do not switch on. 4: no answer.\n"
        "Examples:\n"
        "  fieldpeg on\n"
        "  fieldpeg on --bench\n"
        "  fieldpeg on --already --channel R4");
    verb.callback([options, &run] { run = [options] { return on(*options); }; });
}

}  // namespace fieldpeg::verbs
