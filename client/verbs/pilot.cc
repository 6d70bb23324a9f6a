#include "client/show/day.h"
#include "client/show/json.h"
#include "client/verbs/parts.h"
#include "client/verbs/verb.h"

namespace fieldpeg::verbs {
namespace {

struct PilotOptions {
    Common common;
    std::string name, file, place, area, kit, relay_place;
    TransmitterFlags video;
    std::string receiver, receiver_antenna, receiver_polarisation, of_receiver, uplink;
    bool no_video = false, is_steered = false, is_refused = false;
};

v1::Answer ask_day(const Common& common, int& status) {
    const auto opened = open_course(common, Access::read);
    status = opened.status;
    if (!opened.link) return {};
    v1::Query query;
    query.mutable_day();
    auto answer = opened.link->ask(query);
    if (answer.has_refusal()) status = say_refusal(answer.refusal());
    return answer;
}

int list(const PilotOptions& options) {
    int status = done;
    const auto answer = ask_day(options.common, status);
    if (status != done) return status;
    return print(options.common.json ? show::json_text(answer.day())
                                     : show::people_text(answer.day(), show::look_of_stdout()))
               ? done
               : failed;
}

/// Where one stands who said nothing: the first place of the field, and its first area.
bool settle(PilotOptions& options, int& status) {
    if (!options.place.empty() && !options.area.empty()) return true;
    const auto answer = ask_day(options.common, status);
    if (status != done) return false;
    const auto& field = answer.day().sheet().field();
    if (options.place.empty() && !field.places().empty()) options.place = field.places(0).name();
    if (options.area.empty() && !field.areas().empty()) options.area = field.areas(0).name();
    return true;
}

/// Where a kit brings the gear only what is said goes beside it.
std::optional<book::PilotText> pilot_text(const PilotOptions& options) {
    book::PilotText pilot;
    pilot.name = options.name;
    pilot.place = options.place;
    pilot.area = options.area;
    pilot.kit = options.kit;
    pilot.relay_place = options.relay_place;
    pilot.is_steered = options.is_steered;
    const bool has_kit = !options.kit.empty();
    const auto flags = has_kit ? options.video : with_defaults(options.video);
    if (!options.no_video && !flags.is_silent()) {
        pilot.video = transmitter_text(flags);
        if (!pilot.video) return std::nullopt;
    }
    if (!has_kit || !options.receiver.empty() || !options.receiver_antenna.empty()) {
        const auto said = [](const std::string& text, const char* usual) {
            return text.empty() ? std::string(usual) : text;
        };
        const auto antenna = said(options.receiver_antenna, "circular-omni");
        pilot.goggles = {said(options.receiver, "fm-video-5g8"), antenna,
                         polarisation_of(antenna, flags.polarisation)};
    }
    if (options.uplink.empty()) return pilot;
    pilot.uplink_dbm = power_argument("--uplink", options.uplink);
    if (!pilot.uplink_dbm) return std::nullopt;
    return pilot;
}

int add(PilotOptions options) {
    if (!options.file.empty()) {
        const auto text = read_text(options.file);
        return text ? put(options.common, *text, options.file) : bad_input;
    }
    if (options.name.empty()) return say_bad_input("pilot add", "who? A NAME, or --file FILE");
    int status = done;
    if (!settle(options, status)) return status;
    const auto pilot = pilot_text(options);
    if (!pilot) return bad_input;
    return put(options.common, book::toml_of(*pilot), true);
}

int change(const PilotOptions& options) {
    v1::Command command;
    auto& ask = *command.mutable_change_pilot();
    ask.set_pilot(options.name);
    const auto set = [](const std::string& text, auto put_in) {
        if (!text.empty()) put_in(text);
    };
    set(options.place, [&](const auto& text) { ask.set_place(text); });
    set(options.area, [&](const auto& text) { ask.set_area(text); });
    set(options.video.emission, [&](const auto& text) { ask.set_emission(text); });
    set(options.video.antenna, [&](const auto& text) { ask.set_antenna(text); });
    set(options.video.polarisation, [&](const auto& text) { ask.set_polarisation(text); });
    set(options.receiver, [&](const auto& text) { ask.set_receiver(text); });
    set(options.receiver_antenna, [&](const auto& text) { ask.set_receiver_antenna(text); });
    set(options.receiver_polarisation,
        [&](const auto& text) { ask.set_receiver_polarisation(text); });
    ask.set_of_receiver(options.of_receiver);
    for (const auto& channel : options.video.channels) ask.add_channels(channel);
    for (const auto& written : options.video.powers) {
        const auto power = power_argument("--power", written);
        if (!power) return bad_input;
        ask.add_power_dbm(*power);
    }
    if (ask.power_dbm().empty() && ask.channels().empty() && !ask.has_place() && !ask.has_area() &&
        !ask.has_emission() && !ask.has_antenna() && !ask.has_polarisation() &&
        !ask.has_receiver() && !ask.has_receiver_antenna() && !ask.has_receiver_polarisation())
        return say_bad_input("pilot change", "what? --power, --channels, --place and so on");
    return tell_and_print(options.common, command);
}

void add_change(Verb& pilot, const std::shared_ptr<PilotOptions>& options, Run& run) {
    auto verb = pilot.verb("change", "Change one thing of a pilot's gear; all else stays");
    verb.value("NAME", options->name, "who; default: yourself");
    verb.value("--place", options->place, "where they stand").type_name("PLACE");
    verb.value("--area", options->area, "where they fly").type_name("AREA");
    verb.value("--power", options->video.powers, "what it can be set to: 25mW,200mW")
        .type_name("POWER")
        .split_at(',');
    verb.value("--channels", options->video.channels, "what it can be tuned to: R1-R8,F4,5790")
        .type_name("CHANNEL")
        .split_at(',');
    verb.value("--emission", options->video.emission, "what it radiates").type_name("NAME");
    verb.value("--antenna", options->video.antenna, "of the aircraft").type_name("NAME");
    verb.value("--polarisation", options->video.polarisation,
               "rhcp, lhcp, vertical or horizontal; default: as it is, if that can be")
        .type_name("WORD");
    verb.value("--of-receiver", options->of_receiver,
               "which of their receivers; default: the first")
        .type_name("NAME");
    verb.value("--receiver", options->receiver, "what it is, from 'fieldpeg gear'")
        .type_name("NAME");
    verb.value("--receiver-antenna", options->receiver_antenna, "what is on it").type_name("NAME");
    verb.value("--receiver-polarisation", options->receiver_polarisation, "of that")
        .type_name("WORD");
    add_course(verb, options->common);
    verb.footer(
        "Says what was and what is. A channel that no longer fits is given back, its flight group\n"
        "kept, and the best one in it is named.\n"
        "Examples:\n"
        "  fieldpeg pilot change Hugo --power 25mW,200mW\n"
        "  fieldpeg pilot change Hugo --receiver fm-video-5g8-sharp");
    verb.callback([options, &run] { run = [options] { return change(*options); }; });
}

template <class Set>
int with_name(const PilotOptions& options, Set set) {
    v1::Command command;
    set(command, options.name);
    return tell_and_print(options.common, command);
}

void add_add(Verb& pilot, const std::shared_ptr<PilotOptions>& options, Run& run) {
    auto verb = pilot.verb("add", "Enter a pilot who is not on the day yet");
    verb.value("NAME", options->name, "how they are called on the field");
    verb.value("--file", options->file,
               "[[pilot]] tables as in a day file, - for standard input; instead of the flags")
        .type_name("FILE");
    verb.value("--place", options->place, "where they stand; default: the first place")
        .type_name("PLACE");
    verb.value("--area", options->area, "where they fly; default: the first area")
        .type_name("AREA");
    add_transmitter_flags(verb, options->video);
    verb.value("--kit", options->kit,
               "gear by its look, from 'fieldpeg kits'; what is said beside it goes before")
        .type_name("NAME");
    verb.value("--relay-place", options->relay_place, "of a kit's relay: where it stands")
        .type_name("PLACE");
    verb.value("--receiver", options->receiver,
               "of the goggles, from 'fieldpeg gear'; default: fm-video-5g8")
        .type_name("NAME");
    verb.value("--receiver-antenna", options->receiver_antenna,
               "of the goggles; default: circular-omni")
        .type_name("NAME");
    verb.value("--uplink", options->uplink, "of two-way video: what the goggles send with")
        .type_name("POWER");
    verb.flag("--steered", options->is_steered,
              "by a handset on 2.4 GHz: so that control is looked at, too");
    verb.flag("--no-video", options->no_video, "no aircraft, only goggles");
    add_course(verb, options->common);
    verb.footer(
        "Examples:\n"
        "  fieldpeg pilot add Gil --kit usual-quad\n"
        "  fieldpeg pilot add Gil --power 25mW,200mW --channels R1-R8\n"
        "  fieldpeg pilot add --file gil.toml");
    verb.callback([options, &run] { run = [options] { return add(*options); }; });
}

void add_nod(Verb& pilot, const std::shared_ptr<PilotOptions>& options, Run& run) {
    auto verb = pilot.verb("nod", "The marshal says: whoever joined under this name is them");
    verb.value("NAME", options->name, "who").required();
    verb.flag("--refuse", options->is_refused, "it is somebody else: their key is dropped");
    add_course(verb, options->common);
    verb.footer(
        "Somebody waits who joined as a listed pilot, as somebody who is here already (their\n"
        "phone has lost its key), or without a ticket. Until the nod they only look.");
    verb.callback([options, &run] {
        run = [options] {
            return with_name(*options, [&](v1::Command& c, const std::string& name) {
                c.mutable_nod()->set_name(name);
                c.mutable_nod()->set_refuse(options->is_refused);
            });
        };
    });
}

}  // namespace

void add_pilot(Verb& program, Run& run) {
    const auto options = std::make_shared<PilotOptions>();
    auto pilot = program.verb("pilot", "Who is on this day, with what");
    pilot.needs_verb();
    auto listing = pilot.verb("list", "Everybody, their gear, and who has joined");
    add_course(listing, options->common);
    listing.callback([options, &run] { run = [options] { return list(*options); }; });
    add_add(pilot, options, run);
    add_change(pilot, options, run);
    const auto named = [&](const char* verb_name, const char* what, auto set) {
        auto verb = pilot.verb(verb_name, what);
        verb.value("NAME", options->name, "who").required();
        add_course(verb, options->common);
        verb.callback(
            [options, &run, set] { run = [options, set] { return with_name(*options, set); }; });
    };
    named("remove", "Take somebody off the day, relays and all; off the air first",
          [](v1::Command& c, const std::string& name) { c.mutable_remove()->set_name(name); });
    add_nod(pilot, options, run);
    named(
        "withdraw", "The marshal takes somebody's key back",
        [](v1::Command& c, const std::string& name) { c.mutable_withdraw_key()->set_name(name); });
}

}  // namespace fieldpeg::verbs
