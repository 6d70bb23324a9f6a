#include "server/day/scene.h"

#include "server/day/gear.h"
#include "server/day/state.h"
#include "server/spectrum/noise.h"

#include <boost/assert.hpp>

#include <algorithm>
#include <map>

namespace fieldpeg::day {
namespace {

using spectrum::Point;

template <class List>
const auto& named(const List& list, std::string_view name) {
    const auto found =
        std::ranges::find_if(list, [&](const auto& one) { return one.name() == name; });
    BOOST_ASSERT(found != list.end());
    return *found;
}

Point middle(const v1::Area& area) {
    return {area.east_m(), area.north_m(), (area.low_m() + area.high_m()) / 2};
}

/// Puts a day's claims and receivers into a scene, one after the other.
class Builder {
public:
    explicit Builder(const v1::DaySheet& sheet) : sheet_(sheet) {
        for (const auto& emission : sheet.emissions()) {
            emissions_[emission.name()] = built_.scene.emissions.size();
            built_.scene.emissions.push_back(day::emission(emission));
        }
        for (const auto& profile : sheet.receiver_profiles()) {
            profiles_[profile.name()] = built_.scene.profiles.size();
            built_.scene.profiles.push_back(receiver_profile(profile));
        }
    }

    Situation build(v1::Basis::Kind basis) {
        const auto counts = [&](const auto& holder) {
            return holder.has_claim() &&
                   (basis == v1::Basis::held || radiates(holder.claim().stage()));
        };
        for (const auto& pilot : sheet_.pilots())
            if (counts(pilot)) add_video(pilot);
        for (const auto& relay : sheet_.relays())
            if (counts(relay)) add_relay(relay);
        for (const auto& sighting : sheet_.sightings()) add_sighting(sighting);
        for (const auto& pilot : sheet_.pilots())
            if (pilot.has_handset())
                add_emitter(pilot.handset(), handset_name(pilot.name()), &pilot, Source::handset);
        for (const auto& emitter : sheet_.field().emitters())
            add_emitter(emitter, emitter.name(), nullptr, Source::emitter);
        for (const auto& pilot : sheet_.pilots())
            if (pilot.has_uplink() && counts(pilot))
                add_emitter(pilot.uplink(), uplink_name(pilot.name()), &pilot, Source::uplink);
        for (const auto& pilot : sheet_.pilots())
            for (const auto& receiver : pilot.receivers())
                add_receiver(receiver, pilot.name(), "", pilot.place(), std::nullopt);
        for (const auto& relay : sheet_.relays())
            for (const auto& receiver : relay.receivers())
                add_receiver(receiver, relay.owner(), relay.name(), relay.place(),
                             built_.transmitter(relay.name()).value_or(spectrum::Receiver::silent));
        for (const auto& pilot : sheet_.pilots())
            if (pilot.has_control() && pilot.has_handset() && (!pilot.has_video() || counts(pilot)))
                add_control(pilot);
        return std::move(built_);
    }

private:
    Point place(const std::string& name) const {
        return point(named(sheet_.field().places(), name));
    }

    void add_video(const v1::Pilot& pilot) {
        const bool on_bench = pilot.claim().stage() == v1::Claim::bench;
        spectrum::Station at = envelope(named(sheet_.field().areas(), pilot.area()));
        if (on_bench) {
            Point bench = place(pilot.bench_place().empty() ? pilot.place() : pilot.bench_place());
            bench.z_m = bench_height_m;
            at = bench;
        }
        add_transmitter(pilot.video(), pilot.claim(), at, on_bench, std::nullopt);
        built_.transmitters.push_back({pilot.name(), pilot.name(), Source::video,
                                       pilot.claim().channel(), pilot.claim().stage(),
                                       &pilot.video()});
    }

    void add_relay(const v1::Relay& relay) {
        const auto& owner = named(sheet_.pilots(), relay.owner());
        std::string towards = owner.place();
        for (const auto& v : owner.receivers())
            if (v.hears() == relay.name() && !v.place().empty()) towards = v.place();
        add_transmitter(relay.transmitter(), relay.claim(), place(relay.place()), false,
                        place(towards));
        built_.transmitters.push_back({relay.name(), relay.owner(), Source::relay,
                                       relay.claim().channel(), relay.claim().stage(),
                                       &relay.transmitter()});
    }

    void add_sighting(const v1::Sighting& sighting) {
        spectrum::Station at =
            sighting.place().empty()
                ? spectrum::Station(envelope(named(sheet_.field().areas(), sighting.area())))
                : spectrum::Station(place(sighting.place()));
        v1::Claim as_claim;
        *as_claim.mutable_channel() = sighting.channel();
        as_claim.set_power_dbm(sighting.power_dbm());
        as_claim.set_stage(v1::Claim::on_air);
        add_transmitter(sighting.transmitter(), as_claim, at, true, std::nullopt);
        built_.transmitters.push_back({sighting_name(sighting.id()), "", Source::sighting,
                                       sighting.channel(), v1::Claim::on_air,
                                       &sighting.transmitter()});
    }

    /// `pilot` is none for what belongs to the field.
    void add_emitter(const v1::Emitter& emitter, const std::string& name, const v1::Pilot* pilot,
                     Source source) {
        v1::Claim as_claim;
        as_claim.set_stage(v1::Claim::on_air);
        as_claim.set_power_dbm(emitter.power_dbm());
        *as_claim.mutable_channel() =
            source == Source::uplink ? pilot->claim().channel() : emitter.channel();
        add_transmitter(
            emitter.transmitter(), as_claim,
            place(emitter.place().empty() ? pilot->place() : emitter.place()), false,
            pilot && !pilot->area().empty() ? std::optional(middle(area(*pilot))) : std::nullopt);
        auto& made = built_.scene.transmitters.back();
        made.duty = emitter.duty();
        if (emitter.has_hops()) made.hops = hop_band(emitter.hops());
        if (source == Source::uplink) made.spares = number_of(pilot->name());
        built_.transmitters.push_back({name, pilot ? pilot->name() : "", source, as_claim.channel(),
                                       v1::Claim::on_air, &emitter.transmitter()});
    }

    void add_control(const v1::Pilot& pilot) {
        const auto& control = pilot.control();
        spectrum::Control made{*built_.transmitter(handset_name(pilot.name())),
                               profile_with_floor(control.receiver()),
                               antenna(control.mounting(), {}, std::nullopt),
                               spectrum::Decibel(control.mounting().loss_db()),
                               envelope(area(pilot)),
                               hop_band(control.hops()),
                               spectrum::from_mhz(control.step_mhz()),
                               {}};
        if (const auto video = built_.transmitter(pilot.name())) made.aboard.push_back(*video);
        built_.scene.controls.push_back(std::move(made));
        built_.controls.push_back(pilot.name());
    }

    const v1::Area& area(const v1::Pilot& pilot) const {
        return named(sheet_.field().areas(), pilot.area());
    }

    static spectrum::HopBand hop_band(const v1::HopBand& band) {
        return {spectrum::from_mhz(band.low_mhz()), spectrum::from_mhz(band.high_mhz())};
    }

    /// `towards` is where a directional antenna faces if nothing is said.
    void add_transmitter(const v1::Transmitter& t, const v1::Claim& claim, spectrum::Station at,
                         bool turns, std::optional<Point> towards) {
        const Point stands = std::holds_alternative<Point>(at) ? std::get<Point>(at) : Point{};
        auto mounted = antenna(t.mounting(), stands, towards);
        // On the bench nobody knows where an aircraft's antenna looks: full gain for everybody.
        mounted.turns = mounted.turns || turns;
        built_.scene.transmitters.push_back({emissions_.at(t.emission()),
                                             spectrum::from_mhz(claim.channel().mhz()),
                                             spectrum::Dbm(sent_dbm(t, claim)), mounted,
                                             spectrum::Decibel(t.mounting().loss_db()), at});
        auto& made = built_.scene.transmitters.back();
        made.harmonic_filter = spectrum::Decibel(t.harmonic_filter_db());
        if (t.has_second_harmonic_db())
            made.harmonics_below = {spectrum::Decibel(t.second_harmonic_db()),
                                    spectrum::Decibel(t.third_harmonic_db())};
    }

    void add_receiver(const v1::Receiver& v, const std::string& owner, const std::string& relay,
                      const std::string& owner_place, std::optional<std::size_t> feeds) {
        const Point at = place(v.place().empty() ? owner_place : v.place());
        const std::string hears = v.hears() == "video" ? owner : v.hears();
        auto heard = built_.transmitter(hears);
        const bool tunes = !heard || can_tune(v, built_.transmitters[*heard].channel);
        const bool shows =
            !heard || can_show(sheet_, v, built_.transmitters[*heard].gear->emission());
        if (heard && (!tunes || !shows || built_.transmitters[*heard].stage == v1::Claim::bench))
            heard.reset();
        built_.scene.receivers.push_back({profile_with_floor(v.receiver()), heard,
                                          antenna(v.mounting(), at, heard_at(v, owner)),
                                          spectrum::Decibel(v.mounting().loss_db()), at,
                                          number_of(owner), feeds, spectrum::Decibel(v.body_db())});
        built_.receivers.push_back({v.name(), owner, relay, hears, &v, tunes, shows});
    }

    /// The profile, noisier where a floor was measured that its front end lets in.
    std::size_t profile_with_floor(const std::string& name) {
        const auto plain = profiles_.at(name);
        auto profile = built_.scene.profiles[plain];
        for (const auto& floor : sheet_.floors()) {
            if (floor.high_mhz() < spectrum::mhz(profile.front_end_low) ||
                floor.low_mhz() > spectrum::mhz(profile.front_end_high))
                continue;
            const spectrum::Decibel figure(floor.dbm_per_mhz() -
                                           spectrum::thermal_noise_per_mhz().count());
            profile.noise_figure = std::max(profile.noise_figure, figure);
        }
        if (profile.noise_figure == built_.scene.profiles[plain].noise_figure) return plain;
        const auto [at, is_new] = noisier_.try_emplace(name, built_.scene.profiles.size());
        if (is_new) built_.scene.profiles.push_back(profile);
        return at->second;
    }

    std::size_t number_of(const std::string& pilot) const {
        return static_cast<std::size_t>(
            std::ranges::find(sheet_.pilots(), pilot, &v1::Pilot::name) - sheet_.pilots().begin());
    }

    /// Where what a receiver hears is: the middle of an area, or a relay's place.
    std::optional<Point> heard_at(const v1::Receiver& v, const std::string& owner) const {
        if (v.hears() != "video") {  // a relay, perhaps no longer there
            const auto* heard = relay(sheet_, v.hears());
            return heard ? std::optional(place(heard->place())) : std::nullopt;
        }
        const auto& pilot = named(sheet_.pilots(), owner);
        if (pilot.area().empty()) return std::nullopt;
        return middle(named(sheet_.field().areas(), pilot.area()));
    }

    spectrum::Antenna antenna(const v1::Mounting& m, const Point& at,
                              std::optional<Point> towards) const {
        spectrum::Antenna a{antenna_pattern(named(sheet_.antennas(), m.antenna())),
                            polarisation(m.polarisation()),
                            {},
                            {},
                            m.faces_aircraft()};
        if (a.pattern.horizontal_width && towards) {
            const spectrum::Ray way(at, *towards);
            a.azimuth = way.azimuth();
            a.elevation = way.elevation();
        }
        if (m.has_facing_deg()) a.azimuth = spectrum::Degrees(m.facing_deg());
        if (m.has_tilt_deg()) a.elevation = spectrum::Degrees(m.tilt_deg());
        return a;
    }

    const v1::DaySheet& sheet_;
    Situation built_;
    std::map<std::string, std::size_t> emissions_, profiles_;
    std::map<std::string, std::size_t> noisier_;  ///< profiles with a measured floor
};

}  // namespace

bool can_tune(const v1::Receiver& receiver, const v1::Channel& channel) {
    const auto& own = receiver.channels();
    return own.empty() || std::ranges::find(own, channel.mhz(), &v1::Channel::mhz) != own.end();
}

bool can_show(const v1::DaySheet& sheet, const v1::Receiver& receiver,
              const std::string& emission) {
    const auto& shown = named(sheet.receiver_profiles(), receiver.receiver()).shows();
    return shown.empty() || std::ranges::find(shown, emission) != shown.end();
}

spectrum::Envelope envelope(const v1::Area& area) {
    spectrum::Envelope envelope{area.east_m(), area.north_m(), area.radius_m(), area.low_m(),
                                area.high_m()};
    if (area.has_standoff_m()) envelope.standoff_m = area.standoff_m();
    return envelope;
}

Point point(const v1::Place& place) {
    return {place.east_m(), place.north_m(), place.height_m()};
}

double sent_dbm(const v1::Transmitter& t, const v1::Claim& claim) {
    if (claim.stage() != v1::Claim::bench) return claim.power_dbm();
    if (t.has_bench_power_dbm()) return t.bench_power_dbm();
    return t.power_dbm().empty() ? claim.power_dbm() : *std::ranges::min_element(t.power_dbm());
}

std::string handset_name(std::string_view pilot) {
    return std::string(pilot) + "'s handset";
}

std::string uplink_name(std::string_view pilot) {
    return std::string(pilot) + "'s ground side";
}

std::string sighting_name(std::uint32_t id) {
    return "sighting " + std::to_string(id);
}

std::vector<v1::Channel> moves_to(const TransmitterOf& of) {
    const bool moves =
        (of.source == Source::video || of.source == Source::relay) && of.gear->moves_by_itself();
    if (!moves) return {};
    std::vector<v1::Channel> elsewhere;
    for (const auto& channel : of.gear->channels())
        if (channel.mhz() != of.channel.mhz()) elsewhere.push_back(channel);
    return elsewhere;
}

std::optional<std::size_t> Situation::transmitter(std::string_view name) const {
    const auto found = std::ranges::find(transmitters, name, &TransmitterOf::name);
    if (found == transmitters.end()) return std::nullopt;
    return static_cast<std::size_t>(found - transmitters.begin());
}

Situation situation(const v1::DaySheet& sheet, v1::Basis::Kind basis) {
    return Builder(sheet).build(basis);
}

}  // namespace fieldpeg::day
