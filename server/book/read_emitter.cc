#include "server/book/day_file.h"
#include "server/book/day_reading.h"
#include "server/book/wifi.h"

#include <cmath>
#include <utility>

/// What radiates beside video and relays, and the receivers that aircraft are steered by.
namespace fieldpeg::book {
namespace {

constexpr Range hop_range{channel_mhz_min, channel_mhz_max, "MHz"};
constexpr const char* hopping = "hopping-2g4";
constexpr double hop_low_mhz = 2402, hop_high_mhz = 2480;
constexpr double handset_dbm = 20, handset_duty = 0.5, uplink_duty = 0.2;
constexpr double emitter_dbm = 20, emitter_duty = 0.3;
constexpr double width_mhz_default = 20;

/// What was taken to be so, in words.
template <class Value>
Value taken(const std::optional<Value>& written, Value otherwise, const std::string& as,
            Defaults& defaults) {
    if (!written) defaults.Add(std::string(as));
    return written.value_or(otherwise);
}

/// A share of the time: above 0, at most 1.
double read_duty(Reader& r, double otherwise, const std::string& what, Defaults& defaults) {
    constexpr double least = 1e-4;
    return taken(r.number("duty", {least, 1, "(1 is all the time)"}), otherwise,
                 fmt::format("{}: sends {:.0f} % of the time", what, 100 * otherwise), defaults);
}

/// The one power it sends with.
double read_power(Reader& r, double otherwise, const std::string& what, Defaults& defaults) {
    const auto powers = read_powers(r, "power", 1);
    return taken(powers.empty() ? std::nullopt : std::optional(powers.front()), otherwise,
                 fmt::format("{}: {:.0f} mW", what, std::pow(10, otherwise / 10)), defaults);
}

v1::HopBand read_hops(Reader& r, const v1::HopBand& otherwise, const std::string& what,
                      Defaults& defaults) {
    const auto written = r.numbers("hop_mhz", 2, hop_range);
    v1::HopBand band = otherwise;
    if (!written) {
        defaults.Add(
            fmt::format("{}: hops from {} to {} MHz", what, band.low_mhz(), band.high_mhz()));
        return band;
    }
    if ((*written)[0] >= (*written)[1]) {
        r.problem("hop_mhz", "has its ends the wrong way round", "[lower, upper]");
        return band;
    }
    band.set_low_mhz((*written)[0]);
    band.set_high_mhz((*written)[1]);
    return band;
}

v1::HopBand usual_hops() {
    v1::HopBand band;
    band.set_low_mhz(hop_low_mhz);
    band.set_high_mhz(hop_high_mhz);
    return band;
}

/// The antenna as written, else as is usual.
v1::Mounting mounting(Reader& r, const DayReading& day, const v1::Mounting& otherwise,
                      const std::string& what, Carrier carrier, Defaults& defaults) {
    if (r.has("antenna")) return read_mounting(r, day, what, carrier, defaults);
    for (const char* key : {"polarisation", "loss_db", "facing_deg", "tilt_deg"})
        if (r.has(key)) r.problem(key, "belongs to an antenna that is not named", "antenna");
    defaults.Add(
        fmt::format("{}: {}, loss {:.1f} dB", what, otherwise.antenna(), otherwise.loss_db()));
    return otherwise;
}

v1::Mounting upright_dipole() {
    constexpr double loss_db = 0.5;
    v1::Mounting m;
    m.set_antenna("dipole");
    m.set_polarisation(v1::Polarisation::vertical);
    m.set_loss_db(loss_db);
    return m;
}

void read_extras(Reader& r, v1::Transmitter& t) {
    read_measured(r, {"power", "antenna"}, *t.mutable_measured());
    read_harmonics(r, t);
}

std::string read_emission(Reader& r, const DayReading& day, const std::string& otherwise) {
    const auto written = r.text("emission");
    if (!written) return otherwise;
    const auto* e = known(r, "emission", *written, day.gear.emissions(), "emission");
    return e ? e->name() : otherwise;
}

}  // namespace

v1::Emitter read_uplink(Reader& r, const DayReading& day, const v1::Pilot& pilot,
                        Defaults& defaults) {
    const std::string what = "ground side";
    v1::Emitter e;
    if (!pilot.has_video()) r.problem("", "belongs to no video", "a [pilot.video] of its pilot");
    auto& t = *e.mutable_transmitter();
    t.set_emission(read_emission(r, day, pilot.video().emission()));
    // It sends by the antenna that it hears with.
    const auto as_heard =
        pilot.receivers().empty() ? pilot.video().mounting() : pilot.receivers(0).mounting();
    *t.mutable_mounting() = mounting(r, day, as_heard, what, Carrier::person, defaults);
    const auto powers = read_powers(r, "power", 1);
    if (powers.empty() && !r.has("power_mw") && !r.has("power_dbm"))
        r.problem("power_mw", "is missing", "what the ground side sends with");
    if (!powers.empty()) e.set_power_dbm(powers.front());
    e.set_place(read_place_name(r, day, "place"));
    e.set_duty(read_duty(r, uplink_duty, what, defaults));
    read_extras(r, t);
    return e;
}

v1::Emitter read_handset(Reader& r, const DayReading& day, Defaults& defaults) {
    const std::string what = "handset";
    v1::Emitter e;
    auto& t = *e.mutable_transmitter();
    t.set_emission(read_emission(r, day, hopping));
    *t.mutable_mounting() = mounting(r, day, upright_dipole(), what, Carrier::person, defaults);
    e.set_power_dbm(read_power(r, handset_dbm, what, defaults));
    *e.mutable_hops() = read_hops(r, usual_hops(), what, defaults);
    *e.mutable_channel() = ChannelNames::by_mhz((e.hops().low_mhz() + e.hops().high_mhz()) / 2);
    e.set_place(read_place_name(r, day, "place"));
    e.set_duty(read_duty(r, handset_duty, what, defaults));
    read_extras(r, t);
    return e;
}

v1::ControlReceiver read_control(Reader& r, const DayReading& day, const v1::Pilot& pilot,
                                 Defaults& defaults) {
    const std::string what = "control receiver";
    v1::ControlReceiver c;
    if (!pilot.has_handset()) r.problem("", "hears nobody", "a [pilot.handset] that steers it");
    if (pilot.area().empty()) r.problem("", "flies nowhere", "an area of its pilot");
    c.set_receiver("control-2g4");
    if (const auto written = r.text("receiver"))
        if (const auto* p = known(r, "receiver", *written, day.gear.receivers(), "receiver"))
            c.set_receiver(p->name());
    *c.mutable_mounting() = mounting(r, day, upright_dipole(), what, Carrier::aircraft, defaults);
    *c.mutable_hops() =
        read_hops(r, pilot.has_handset() ? pilot.handset().hops() : usual_hops(), what, defaults);
    const double width = c.hops().high_mhz() - c.hops().low_mhz();
    const auto step = taken(r.number("step_mhz", {0.001, hop_range.high, "MHz"}), 1.0,
                            fmt::format("{}: {}, in steps of 1 MHz", what, c.receiver()), defaults);
    if (step > width)
        r.problem("step_mhz", fmt::format("is wider than the band of {} MHz", width),
                  "the width of one hop");
    constexpr double channels_most = 400;  // an 80 MHz band in steps of 0.2 MHz
    if (width / step > channels_most)
        r.problem("step_mhz", fmt::format("makes {:.0f} channels", width / step),
                  fmt::format("at most {}", channels_most));
    c.set_step_mhz(std::clamp(step, width / channels_most, width));
    return c;
}

void read_emitter(Reader& r, DayReading& day) {
    v1::Emitter e;
    const auto name = r.name("name", Need::required);
    if (name) {
        r.called(fmt::format("field, emitter '{}'", *name));
        take_name_of(r, day, *name);
        e.set_name(*name);
    }
    const std::string what = e.name();
    auto& defaults = *day.sheet.mutable_field()->mutable_defaults();
    auto& t = *e.mutable_transmitter();
    const auto width = r.number("width_mhz", {1, 200, "MHz"});
    const double width_mhz = width.value_or(width_mhz_default);
    if (width && r.has("emission"))
        r.problem("width_mhz", "is given beside emission", "one of the two");
    if (width && *width != 10 && *width != 20 && *width != 40)
        r.problem("width_mhz", fmt::format("is {} MHz", *width),
                  "10, 20 or 40; of 80 enter two of 40 beside each other");
    t.set_emission(read_emission(r, day, fmt::format("ofdm-{:.0f}", width_mhz)));
    if (!width && !r.has("emission"))
        defaults.Add(fmt::format("{}: {} MHz wide", what, width_mhz_default));

    const auto number = r.number("wifi", {1, 200, ""});
    const auto channel = read_channel_text(r, "channel", Need::optional);
    if (number && channel) r.problem("wifi", "is given beside channel", "one of the two");
    if (!number && !channel && !r.has("wifi") && !r.has("channel"))
        r.problem("channel", "is missing", "channel = \"5745MHz\", or wifi = 6");
    if (number) {
        const auto mhz = *number == std::floor(*number)
                             ? wifi_mhz(static_cast<int>(*number), width_mhz)
                             : Refusal{Refusal::Kind::malformed, "wifi", "is no whole number",
                                       "the number of a channel"};
        if (mhz)
            *e.mutable_channel() = ChannelNames::by_mhz(*mhz);
        else
            r.problem(mhz.error().where, mhz.error().why, mhz.error().next);
    }
    if (channel) {
        std::string why;
        if (const auto read = day.channels.read(*channel, why))
            *e.mutable_channel() = *read;
        else
            r.problem("channel", why);
    }
    *t.mutable_mounting() = mounting(r, day, upright_dipole(), what, Carrier::person, defaults);
    e.set_power_dbm(read_power(r, emitter_dbm, what, defaults));
    e.set_place(read_place_name(r, day, "place", Need::required));
    e.set_duty(read_duty(r, emitter_duty, what, defaults));
    read_extras(r, t);
    place_named(*day.sheet.mutable_field()->mutable_emitters(), e.name()) = std::move(e);
}

}  // namespace fieldpeg::book
