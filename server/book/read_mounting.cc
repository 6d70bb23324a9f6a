#include "server/book/day_reading.h"

namespace fieldpeg::book {
namespace {

constexpr Range azimuth_range{-360, 360, "degrees"};
constexpr Range tilt_range{-90, 90, "degrees"};
constexpr Range loss_range{0, 60, "dB"};

constexpr double loss_db_default = 0.5;

v1::Polarisation::Kind read_polarisation(Reader& r, const v1::Antenna* antenna,
                                         const std::string& what, Defaults& defaults) {
    static const std::vector<std::string> words = {"rhcp", "lhcp", "vertical", "horizontal"};
    const auto word = r.word("polarisation", words);
    v1::Polarisation::Kind kind = v1::Polarisation::vertical;
    if (word) v1::Polarisation::Kind_Parse(*word, &kind);
    if (!antenna) return kind;
    const bool circular = kind == v1::Polarisation::rhcp || kind == v1::Polarisation::lhcp;
    if (antenna->circular() && !word && !r.has("polarisation"))
        r.problem("polarisation", "is missing", "rhcp or lhcp, for a circular antenna");
    else if (word && antenna->circular() != circular)
        r.problem("polarisation", fmt::format("{} does not go with {}", *word, antenna->name()),
                  antenna->circular() ? "rhcp or lhcp" : "vertical or horizontal");
    else if (!word)
        defaults.Add(fmt::format("{}: polarisation vertical", what));
    return kind;
}

/// Which way an antenna on the ground or on a person faces.
void read_facing(Reader& r, bool directional, const std::string& what, Carrier carrier,
                 Defaults& defaults, v1::Mounting& m) {
    const auto facing = r.number("facing_deg", azimuth_range);
    const auto tilt = r.number("tilt_deg", tilt_range);
    if (facing) m.set_facing_deg(*facing);
    if (tilt) m.set_tilt_deg(*tilt);
    if (carrier == Carrier::person && r.word("facing", {"aircraft"})) m.set_faces_aircraft(true);
    if (facing && m.faces_aircraft())
        r.problem("facing", "is given beside facing_deg", "one of the two");
    if (directional && !facing && !m.faces_aircraft())
        defaults.Add(fmt::format("{}: faces {}", what,
                                 carrier == Carrier::ground ? "its owner" : "what it hears"));
}

}  // namespace

v1::Mounting read_mounting(Reader& r, const DayReading& day, const std::string& what,
                           Carrier carrier, Defaults& defaults) {
    v1::Mounting m;
    const v1::Antenna* antenna = nullptr;
    if (const auto name = r.text("antenna", Need::required))
        antenna = known(r, "antenna", *name, day.gear.antennas(), "antenna");
    if (antenna) m.set_antenna(antenna->name());
    m.set_polarisation(read_polarisation(r, antenna, what, defaults));
    const auto loss = r.number("loss_db", loss_range);
    m.set_loss_db(loss.value_or(loss_db_default));
    if (!loss) defaults.Add(fmt::format("{}: loss_db {}", what, loss_db_default));

    const bool directional = antenna && antenna->has_horizontal_width_deg();
    if (carrier != Carrier::aircraft)
        read_facing(r, directional, what, carrier, defaults, m);
    else if (directional)  // facing keys are unknown here
        defaults.Add(fmt::format("{}: heading unknown", what));
    return m;
}

}  // namespace fieldpeg::book
