#include "client/show/day.h"
#include "client/show/replies.h"
#include "client/verbs/parts.h"
#include "client/verbs/verb.h"

#include <memory>
#include <string>

namespace fieldpeg::verbs {
namespace {

struct RelayCourseOptions {
    Common common;
    std::string name, owner, place, file;
    TransmitterFlags transmitter;
    std::string receiver, receiver_antenna;
    std::string by;
    bool yes = false;
    bool already = false;
};

int add(const RelayCourseOptions& options) {
    if (!options.file.empty()) {
        const auto text = read_text(options.file);
        return text ? put(options.common, *text, options.file) : bad_input;
    }
    if (options.name.empty() || options.owner.empty() || options.place.empty())
        return say_bad_input("relay add", "give NAME, --owner and --place, or --file FILE");
    const auto flags = with_defaults(options.transmitter);
    const auto transmitter = transmitter_text(flags);
    if (!transmitter) return bad_input;
    book::RelayText relay{options.name, options.owner, options.place, *transmitter, {}};
    if (!options.receiver.empty()) {
        const auto antenna =
            options.receiver_antenna.empty() ? flags.antenna : options.receiver_antenna;
        relay.receiver = {options.receiver, antenna, polarisation_of(antenna, "")};
    }
    return put(options.common, book::toml_of(relay));
}

/// The power window first, then the question itself.
int on(const RelayCourseOptions& options) {
    const auto [link, status] = open_course(options.common, Access::write);
    if (!link) return status;
    v1::Query query;
    query.mutable_relay_check()->set_relay(options.name);
    query.mutable_relay_check()->set_basis(v1::Basis::on_air);
    const auto answer = link->ask(query);
    if (answer.has_refusal()) return say_refusal(answer.refusal());
    v1::Command command;
    command.mutable_on()->set_transmitter(answer.relay_check().relay());
    command.mutable_on()->set_yes_anyway(options.yes);
    command.mutable_on()->set_already(options.already);
    const auto reply = link->send(command);
    if (reply.has_refusal()) return say_refusal(reply.refusal());
    const auto look = show::look_of_stdout();
    auto text = show::reply_text(reply, link->now_ms(), look);
    if (reply.has_switched())
        text = show::relay_check_text(answer.relay_check(), look) + "\n" + text;
    return print_reply(reply, options.common.json, text);
}

int off(const RelayCourseOptions& options) {
    v1::Command command;
    command.mutable_off()->set_transmitter(options.name);
    command.mutable_off()->set_yes_anyway(options.yes);
    return tell_and_print(options.common, command);
}

int remove(const RelayCourseOptions& options) {
    if (options.name.empty() == options.by.empty())
        return say_bad_input("relay remove", "which? A NAME, or --by NAME: all of one person's");
    v1::Command command;
    command.mutable_remove()->set_name(options.name);
    command.mutable_remove()->set_by(options.by);
    return tell_and_print(options.common, command);
}

void add_remove(Verb& relay, const std::shared_ptr<RelayCourseOptions>& options, Run& run) {
    auto verb = relay.verb("remove", "Take a relay off the day; off the air first");
    verb.value("NAME", options->name, "which relay");
    verb.value("--by", options->by, "the marshal: all of this person's that are off")
        .type_name("NAME");
    add_course(verb, options->common);
    verb.footer(
        "Examples:\n"
        "  fieldpeg relay remove tripod\n"
        "  fieldpeg relay remove --by Gil");
    verb.callback([options, &run] { run = [options] { return remove(*options); }; });
}

}  // namespace

void add_relay_course(Verb& relay, Run& run) {
    const auto options = std::make_shared<RelayCourseOptions>();
    auto adding = relay.verb("add", "Enter a relay, or change one");
    adding.value("NAME", options->name, "what it is called");
    adding.value("--owner", options->owner, "the pilot whose picture it carries")
        .type_name("PILOT");
    adding.value("--place", options->place, "where it stands").type_name("PLACE");
    adding.value("--file", options->file, "[[relay]] tables as in a day file; instead of the flags")
        .type_name("FILE");
    add_transmitter_flags(adding, options->transmitter);
    adding
        .value("--receiver", options->receiver,
               "of the first hop, from 'fieldpeg gear'; default: none of this day's")
        .type_name("NAME");
    adding
        .value("--receiver-antenna", options->receiver_antenna,
               "of that receiver; default: as of the transmitter")
        .type_name("NAME");
    add_course(adding, options->common);
    adding.footer(
        "Goggles that heard the owner's aircraft hear the relay from then on, if it is the only "
        "one.\n"
        "Example:\n"
        "  fieldpeg relay add tripod --owner Dee --place tripod-1 --power 25mW,200mW --channels "
        "F1,F4 \\\n"
        "      --receiver fm-video-1g3 --receiver-antenna wide-panel");
    adding.callback([options, &run] { run = [options] { return add(*options); }; });

    auto switching_on = relay.verb("on", "Its power window, and whether to switch it on now");
    switching_on.value("NAME", options->name, "which relay").required();
    switching_on.flag("--already", options->already, "it radiates: a fact, never refused");
    switching_on.flag("--yes", options->yes, "though the owner's own picture would be in trouble");
    add_course(switching_on, options->common);
    switching_on.callback([options, &run] { run = [options] { return on(*options); }; });

    auto switching_off = relay.verb("off", "Say that it is off");
    switching_off.value("NAME", options->name, "which relay").required();
    switching_off.flag("--yes", options->yes, "though a picture in the air goes with it");
    add_course(switching_off, options->common);
    switching_off.callback([options, &run] { run = [options] { return off(*options); }; });
    add_remove(relay, options, run);
}

}  // namespace fieldpeg::verbs
