#include "client/show/day.h"
#include "client/show/replies.h"
#include "client/verbs/verb.h"

#include <iostream>

namespace fieldpeg::verbs {
namespace {

struct ClaimOptions {
    Common common;
    std::string channel, power, who;
    std::optional<unsigned> group;
    bool yes = false;
    bool sharp = false;
    bool only_try = false;
};

/// Once the claim is decided: who may yet be in a clash with it if a guess is off.
void say_what_rests_on_guesses(link::Link& link, const std::string& transmitter) {
    constexpr unsigned terms = 1;
    v1::Query query;
    query.mutable_check()->set_basis(v1::Basis::held);
    query.mutable_check()->set_contributions(terms);
    const auto answer = link.ask(query);
    if (answer.has_check())
        std::cerr << show::doubts_text(answer.check(), transmitter, show::look_of_stdout());
}

int claim(const ClaimOptions& options) {
    v1::Command command;
    auto& ask = *command.mutable_claim();
    ask.set_transmitter(options.who);
    if (options.channel != "best") {
        const auto channel = channel_argument("CHANNEL", options.channel);
        if (!channel) return bad_input;
        *ask.mutable_channel() = *channel;
    }
    if (!set_power("--power", options.power, ask)) return bad_input;
    if (options.group) ask.set_group(*options.group);
    ask.set_sharp(options.sharp);
    ask.set_yes_anyway(options.yes);
    ask.set_only_try(options.only_try);
    const auto [link, status] = open_course(options.common, Access::write);
    if (!link) return status;
    const auto sent = send(*link, command, options.common.json);
    if (sent.status != done) return sent.status;
    const auto printed =
        print_reply(sent.reply, options.common.json,
                    show::reply_text(sent.reply, sent.now_ms, show::look_of_stdout()));
    if (!options.common.json && sent.reply.claim().claimed())
        say_what_rests_on_guesses(*link, sent.reply.claim().transmitter());
    return printed;
}

}  // namespace

void add_claim(Verb& program, Run& run) {
    const auto options = std::make_shared<ClaimOptions>();
    auto verb = program.verb("claim", "Ask for a channel and a power");
    verb.value("CHANNEL", options->channel,
               "R3, 5806, or best: the one that leaves everybody the most margin")
        .required();
    verb.value("--power", options->power,
               "25mW; default: the held one, else the lowest step that is steady with nobody else "
               "on the air")
        .type_name("POWER");
    verb.flag("--sharp", options->sharp,
              "with no --power: the lowest step that is sharp with nobody else on the air");
    verb.value("--for", options->who, "a relay of yours; the marshal: anybody").type_name("NAME");
    verb.value("--group", options->group, "the flight group it is for; 0: none").type_name("N");
    verb.flag("--yes", options->yes, "even if your own picture would be in trouble");
    verb.flag("--try", options->only_try, "only say what would happen, change nothing");
    add_course(verb, options->common);
    verb.footer(
        "What harms somebody else is refused, with the nearest channels that do not; the marshal "
        "can\n"
        "allow it: 'fieldpeg allow'. Exit status 3: refused.\n"
        "Examples:\n"
        "  fieldpeg claim R3 --power 25mW\n"
        "  fieldpeg claim best\n"
        "  fieldpeg claim F4 --for \"Dee's tripod\" --power 200mW --try");
    verb.callback([options, &run] { run = [options] { return claim(*options); }; });
}

}  // namespace fieldpeg::verbs
