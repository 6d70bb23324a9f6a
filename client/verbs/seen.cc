#include "client/verbs/verb.h"

namespace fieldpeg::verbs {
namespace {

struct Options {
    Common common;
    std::string channel, power, emission, place, area, note;
    unsigned gone = 0;
};

int seen(const Options& options) {
    v1::Command command;
    if (options.gone > 0) {
        command.mutable_unsee()->set_sighting(options.gone);
        return tell_and_print(options.common, command);
    }
    if (options.channel.empty()) return say_bad_input("seen", "on which channel? Or --gone NUMBER");
    auto& ask = *command.mutable_see();
    if (!set_channel("CHANNEL", options.channel, ask) || !set_power("--power", options.power, ask))
        return bad_input;
    ask.set_emission(options.emission);
    ask.set_place(options.place);
    ask.set_area(options.area);
    ask.set_note(options.note);
    return tell_and_print(options.common, command);
}

}  // namespace

void add_seen(Verb& program, Run& run) {
    const auto options = std::make_shared<Options>();
    auto verb = program.verb("seen", "Report something on the air that did not ask: never refused");
    verb.value("CHANNEL", options->channel, "where");
    verb.value("--power", options->power, "as far as known; default 200mW").type_name("POWER");
    verb.value("--emission", options->emission, "what it radiates; default: analogue video")
        .type_name("NAME");
    verb.value("--place", options->place, "where it stands").type_name("PLACE");
    verb.value("--area", options->area, "where it flies; default: the largest area")
        .type_name("AREA");
    verb.value("--note", options->note, "for the log").type_name("TEXT");
    verb.value("--gone", options->gone, "the sighting of this number is no longer there")
        .type_name("NUMBER");
    add_course(verb, options->common);
    verb.footer(
        "It counts in every calculation at once.\n"
        "Examples:\n"
        "  fieldpeg seen R4 --note \"someone in the car park\"\n"
        "  fieldpeg seen --gone 12");
    verb.callback([options, &run] { run = [options] { return seen(*options); }; });
}

}  // namespace fieldpeg::verbs
