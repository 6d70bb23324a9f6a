#include "client/verbs/verb.h"
#include "server/book/names.h"
#include "server/day/words.h"

#include <fmt/format.h>

#include <unistd.h>
#include <iostream>
#include <optional>
#include <string>

namespace fieldpeg::verbs {
namespace {

struct OnOptions {
    Common common;
    std::string who, channel, power;
    bool bench = false;
    bool already = false;
    bool yes = false;
    bool out_of_turn = false;
    bool confirm = false;
    bool when_free = false;
};

v1::Command command_of(const OnOptions& options) {
    v1::Command command;
    auto& ask = *command.mutable_on();
    ask.set_transmitter(options.who);
    ask.set_bench(options.bench);
    ask.set_already(options.already);
    ask.set_yes_anyway(options.yes);
    ask.set_out_of_turn(options.out_of_turn);
    ask.set_confirm(options.confirm);
    ask.set_when_free(options.when_free);
    return command;
}

/// Waits for Enter; what was written before it. None: the input has ended.
std::optional<std::string> enter(const std::string& question) {
    std::cerr << question << ' ' << std::flush;
    std::string line;
    if (!std::getline(std::cin, line)) return std::nullopt;
    return line;
}

/// Whether there is somebody who can be asked, step by step.
bool is_in_steps(const OnOptions& options) {
    return !options.bench && !options.already && !options.confirm && !options.common.json &&
           ::isatty(STDIN_FILENO) == 1 && ::isatty(STDOUT_FILENO) == 1;
}

/// "R3 (5732 MHz)", as the board knows it.
std::string channel_held(link::Link& link, const std::string& who) {
    v1::Query query;
    query.mutable_board();
    const auto answer = link.ask(query);
    const auto name = who.empty() ? link.self() : who;
    for (const auto& row : answer.board().rows())
        if (book::name_key(row.transmitter()) == book::name_key(name) && row.has_channel())
            return day::channel_text(row.channel());
    return "your channel";
}

/// Look, ask, go, confirm.
int in_steps(const OnOptions& options) {
    const auto opened = open_course(options.common, Access::write);
    if (!opened.link) return opened.status;
    auto& link = *opened.link;
    if (!enter(
            fmt::format("Look first: tune to {}. Snow: Enter. A picture: Ctrl-C, and say 'seen'.",
                        channel_held(link, options.who))))
        return refused;
    auto command = command_of(options);
    command.mutable_on()->set_in_steps(true);
    const auto reply = link.send(command);
    const int status = print_sent(reply, link.now_ms(), false);
    const auto& switched = reply.switched();
    if (status != done || switched.answer() != v1::SwitchReply::switch_on) return status;
    const auto said = enter("Is it on? Enter; not after all: n, Enter.");
    if (!said) return status;
    v1::Command then;
    if (said->starts_with('n') || said->starts_with('N')) {
        then.mutable_off()->set_transmitter(switched.transmitter());
        then.mutable_off()->set_not_after_all(true);
    } else {
        then.mutable_on()->set_transmitter(switched.transmitter());
        then.mutable_on()->set_confirm(true);
    }
    return tell_and_print(link, then, false);
}

int on(const OnOptions& options) {
    if (is_in_steps(options)) return in_steps(options);
    auto command = command_of(options);
    auto& ask = *command.mutable_on();
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
    const auto options = std::make_shared<OnOptions>();
    auto verb = program.verb("on", "Ask whether to switch on now, or say that it is on already");
    verb.value("NAME", options->who,
               "a relay of yours; the marshal: anybody; default: your own aircraft");
    verb.flag("--bench", options->bench, "on the bench, at bench power");
    verb.flag("--already", options->already, "it radiates: a fact, never refused");
    verb.value("--channel", options->channel,
               "with --already: where it radiates, if not on the channel held")
        .type_name("CHANNEL");
    verb.value("--power", options->power, "with --already").type_name("POWER");
    verb.flag("--confirm", options->confirm,
              "it is on, as it was told to be; a marshal who sees it asks and confirms at once");
    verb.flag("--when-free", options->when_free,
              "where it is no yes: a place in the line, and called by name");
    verb.flag("--yes", options->yes, "even if your own picture would be in trouble");
    verb.flag("--anyway", options->out_of_turn,
              "the marshal: though another flight group was called");
    add_course(verb, options->common);
    verb.footer(
        "The answer is 'switch on', 'wait' or 'ask the marshal'. A yes is good for a minute. On a\n"
        "terminal it goes in steps: look, ask, switch on, say that it is on. From the yes on you\n"
        "count as on the air for everybody else, until you say off, or 'off --not-after-all'.\n"
        "Without an answer: do not switch on unless the marshal says so.\n"
        "Exit status 3: do not switch on. 4: no answer.\n"
        "Examples:\n"
        "  fieldpeg on\n"
        "  fieldpeg on --when-free\n"
        "  fieldpeg on --bench\n"
        "  fieldpeg on --already --channel R4");
    verb.callback([options, &run] { run = [options] { return on(*options); }; });
}

}  // namespace fieldpeg::verbs
