#include "server/book/day_reading.h"

namespace fieldpeg::book {
namespace {

std::string usual_name(const ReceiverOf& whose) {
    const std::string kind = whose.is_pilot ? "goggles" : "rx";
    return whose.index == 1 ? kind : fmt::format("{}-{}", kind, whose.index);
}

/// What a receiver hears: as written, else the owner's only relay, else the owner's video.
std::string read_hears(Reader& r, const DayReading& day, const ReceiverOf& whose,
                       const std::string& receiver, Defaults& defaults) {
    std::vector<std::string> choices = {"video"};
    if (whose.is_pilot)
        for (const auto& relay : day.relays)
            if (name_key(relay.owner) == name_key(whose.holder)) choices.push_back(relay.name);
    const auto written = r.text("hears");
    if (written) {
        for (const auto& choice : choices)
            if (name_key(choice) == name_key(*written)) return choice;
        r.problem("hears", fmt::format("'{}' is unknown", printable(*written)),
                  fmt::format("{}", fmt::join(choices, " or ")), r.suggestion(*written, choices));
    } else if (choices.size() > 2) {
        r.problem("hears", "is missing, with two relays",
                  fmt::format("{}", fmt::join(choices, " or ")));
    }
    if (!written && choices.size() == 2)
        defaults.Add(fmt::format("{}: hears the relay {}", receiver, choices.back()));
    return choices.size() == 2 ? choices.back() : choices.front();
}

}  // namespace

v1::Receiver read_receiver(Reader& r, const DayReading& day, const ReceiverOf& whose,
                           Defaults& defaults) {
    v1::Receiver v;
    v.set_name(r.name("name").value_or(usual_name(whose)));
    if (const auto profile = r.text("receiver", Need::required))
        if (const auto* p = known(r, "receiver", *profile, day.gear.receivers(), "receiver"))
            v.set_receiver(p->name());
    *v.mutable_mounting() = read_mounting(r, day, v.name(), Carrier::person, defaults);
    v.set_place(read_place_name(r, day, "place"));
    read_channels(r, day, *v.mutable_channels());
    v.set_body_db(r.number("body_db", {0, 40, "dB"}).value_or(0));
    read_measured(r, {"antenna", "noise_figure", "selectivity", "intercept"},
                  *v.mutable_measured());
    v.set_hears(read_hears(r, day, whose, v.name(), defaults));
    for (const auto& other : whose.others)
        if (name_key(other.name()) == name_key(v.name()))
            r.problem("name", fmt::format("'{}' is used twice", v.name()),
                      "a name of its own for each receiver");
    return v;
}

}  // namespace fieldpeg::book
