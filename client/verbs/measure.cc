#include "client/show/day.h"
#include "client/verbs/verb.h"
#include "server/book/writer.h"

#include <fmt/format.h>

#include <iostream>
#include <optional>
#include <sstream>

namespace fieldpeg::verbs {
namespace {

struct MeasureOptions {
    Common common;
    std::string pilot, receiver, what, note;
    bool only_try = false;
};

/// Asks somebody in words, until the answer is one; none: the input has ended.
template <class Value, class Read>
std::optional<Value> asked(const std::string& question, Read read) {
    while (true) {
        std::cerr << question << ": " << std::flush;
        std::string line;
        if (!std::getline(std::cin, line)) return std::nullopt;
        if (const auto value = read(line)) return *value;
    }
}

std::optional<double> power(const std::string& question) {
    return asked<double>(question + " (25mW, 14dBm)",
                         [](const std::string& line) { return power_argument("power", line); });
}

std::optional<double> number(const std::string& question, const char* unit) {
    return asked<double>(fmt::format("{} ({})", question, unit),
                         [&](const std::string& line) -> std::optional<double> {
                             double value = 0;
                             std::istringstream in(line);
                             if (in >> value && value > 0) return value;
                             std::cerr << "  a number above 0, in " << unit << '\n';
                             return std::nullopt;
                         });
}

/// Where both stood, of a measurement with two transmitters.
template <class Two>
bool ask_two(Two& m) {
    const auto own = power("what the aircraft sends with");
    const auto away = own ? number("how far it was from the receiver", "metres") : std::nullopt;
    const auto other = away ? power("what the other one sends with") : std::nullopt;
    const auto other_away =
        other ? number("how near the other one was when it happened", "metres") : std::nullopt;
    if (!other_away) return false;
    m.set_power_dbm(*own);
    m.set_away_m(*away);
    m.set_other_dbm(*other);
    m.set_other_away_m(*other_away);
    return true;
}

/// Walks through one kind of measurement. False: the input ended before it was through.
bool ask(const std::string& what, v1::RecordMeasurement& m) {
    if (what == "weakest") {
        std::cerr
            << "Carry the aircraft away at its least power, over open ground, aerials upright,\n"
               "nobody else on the air, through the grain until the picture breaks: the first "
               "black and\n"
               "white dashes, a freeze. (25 mW carries too far for that: an attenuator, or pit "
               "mode.)\n";
        const auto sent = power("what it sends with");
        const auto away = sent ? number("how far away it broke", "metres") : std::nullopt;
        if (!away) return false;
        m.mutable_weakest()->set_power_dbm(*sent);
        m.mutable_weakest()->set_away_m(*away);
        return true;
    }
    if (what == "beside") {
        std::cerr
            << "Let the aircraft lie at some distance, a good picture in the receiver. Bring "
               "another\n"
               "transmitter of the same kind, one channel further, nearer until lines tear.\n";
        const auto offset = number("how far its channel lies from yours", "MHz");
        if (!offset || !ask_two(*m.mutable_tearing())) return false;
        m.mutable_tearing()->set_offset_mhz(*offset);
        return true;
    }
    if (what == "overload") {
        std::cerr
            << "Let the aircraft lie near by, a very strong picture in the receiver. Bring a loud\n"
               "transmitter, as many channels off as there are, nearer until the picture goes.\n"
               "Keep heads away from its aerial.\n";
        const auto offset = number("how far its channel lies from yours", "MHz");
        if (!offset || !ask_two(*m.mutable_overload())) return false;
        m.mutable_overload()->set_offset_mhz(*offset);
        return true;
    }
    std::cerr
        << "Measure what the transmitter sends with a power meter, or hold it against one that is\n"
           "known. Never switch it on without an aerial or a dummy load.\n";
    const auto label = power("what the step is called");
    const auto real = label ? power("what it really sends") : std::nullopt;
    if (!real) return false;
    m.mutable_power()->set_label_dbm(*label);
    m.mutable_power()->set_real_dbm(*real);
    return true;
}

int measure(const MeasureOptions& options) {
    v1::Command command;
    auto& m = *command.mutable_measurement();
    m.set_pilot(options.pilot);
    m.set_receiver(options.receiver);
    m.set_note(options.note);
    m.set_only_try(options.only_try);
    if (!ask(options.what, m))
        return say_bad_input("gear measure",
                             "the answers ended before it was through; nothing was "
                             "entered");
    const auto opened = open_course(options.common, Access::write);
    if (!opened.link) return opened.status;
    const auto sent = send(*opened.link, command, options.common.json);
    if (sent.status != done) return sent.status;
    auto text = show::reply_text(sent.reply, sent.now_ms, show::look_of_stdout());
    if (sent.reply.done().has_measured()) {
        const auto& profile = sent.reply.done().measured();
        const auto table = book::toml_of(profile);
        if (!table) return say_refusal(table.error());
        text += fmt::format(
            "\n\n{} a day file it is written so, with receiver = \"{}\" beside it:\n{}",
            options.only_try ? "In" : "That is for this day. In", profile.name(), table.value());
    }
    return print_reply(sent.reply, options.common.json, text);
}

}  // namespace

void add_measure(Verb& gear, Run& run) {
    const auto options = std::make_shared<MeasureOptions>();
    auto verb = gear.verb("measure", "Enter what was measured of somebody's gear, step by step");
    verb.value("PILOT", options->pilot, "whose").required();
    verb.value("WHAT", options->what, "weakest, beside, overload or power")
        .required()
        .one_of({"weakest", "beside", "overload", "power"});
    verb.value("--receiver", options->receiver, "of several; default: the first").type_name("NAME");
    verb.value("--note", options->note, "by whom, with what; default: who enters it")
        .type_name("TEXT");
    verb.flag("--try", options->only_try, "only say what it would make, enter nothing");
    add_course(verb, options->common);
    verb.footer(
        "It asks for what was seen, reckons the number, and enters it with the date as measured: "
        "from\n"
        "then on no verdict rests on a guess about it. docs/measure.md says how to do it.\n"
        "  weakest   how weak a picture still shows\n"
        "  beside    how well the channel beside is shut out\n"
        "  overload  how strong a neighbour may be\n"
        "  power     what a transmitter really sends\n"
        "Examples:\n"
        "  fieldpeg gear measure Ann weakest --note 'Ann, tape measure'\n"
        "  fieldpeg gear measure Ann power");
    verb.callback([options, &run] { run = [options] { return measure(*options); }; });
}

}  // namespace fieldpeg::verbs
