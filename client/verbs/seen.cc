#include "client/verbs/verb.h"

#include <charconv>
#include <cstdint>
#include <system_error>

namespace fieldpeg::verbs {
namespace {

struct SeenOptions {
    Common common;
    std::string channel, power, emission, place, area, note, gone, by;
    bool is_gone = false;
};

/// One by its number, or all that somebody entered.
int take_back(const SeenOptions& options) {
    v1::Command command;
    auto& ask = *command.mutable_unsee();
    ask.set_by(options.by);
    if (!options.gone.empty()) {
        std::uint32_t number = 0;
        const auto* end = options.gone.data() + options.gone.size();
        const auto read = std::from_chars(options.gone.data(), end, number);
        if (read.ec != std::errc() || read.ptr != end || number == 0)
            return say_bad_input("--gone", "is no number of a sighting: 'board' has them");
        ask.set_sighting(number);
    }
    if (options.gone.empty() && options.by.empty())
        return say_bad_input("--gone", "which? Its number, or --by NAME: all that they entered");
    return tell_and_print(options.common, command);
}

int seen(const SeenOptions& options) {
    v1::Command command;
    if (options.is_gone) return take_back(options);
    if (!options.by.empty()) return say_bad_input("--by", "goes with --gone");
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
    const auto options = std::make_shared<SeenOptions>();
    auto verb = program.verb("seen", "Report something on the air that did not ask");
    verb.value("CHANNEL", options->channel, "where");
    verb.value("--power", options->power, "as far as known; default 200mW").type_name("POWER");
    verb.value("--emission", options->emission, "what it radiates; default: analogue video")
        .type_name("NAME");
    verb.value("--place", options->place, "where it stands").type_name("PLACE");
    verb.value("--area", options->area, "where it flies; default: the largest area")
        .type_name("AREA");
    verb.value("--note", options->note, "for the log").type_name("TEXT");
    const auto gone =
        verb.value("--gone", options->gone, "the sighting of this number is no longer there")
            .type_name("NUMBER")
            .may_be_empty();
    verb.value("--by", options->by, "with --gone, the marshal: all that this person entered")
        .type_name("NAME");
    add_course(verb, options->common);
    verb.footer(
        "It counts in every calculation at once, and needs nobody's leave. Of one pilot at most "
        "20\n"
        "stand at a time, so that nobody fills the day for all others.\n"
        "Examples:\n"
        "  fieldpeg seen R4 --note \"someone in the car park\"\n"
        "  fieldpeg seen --gone 12\n"
        "  fieldpeg seen --gone --by Gil");
    verb.callback([options, gone, &run] {
        options->is_gone = gone.is_given();
        run = [options] { return seen(*options); };
    });
}

}  // namespace fieldpeg::verbs
