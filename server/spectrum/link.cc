#include "server/spectrum/link.h"

#include "server/spectrum/link_memory.h"
#include "server/spectrum/many_ways.h"
#include "server/spectrum/propagation.h"

#include <algorithm>
#include <cmath>
#include <utility>
#include <vector>

namespace fieldpeg::spectrum {
namespace {

End end_of(const Transmitter& transmitter, const Point& at) {
    return {transmitter.antenna, transmitter.loss, at,
            std::holds_alternative<Envelope>(transmitter.at)};
}

End end_of(const Receiver& receiver) {
    return {receiver.antenna, receiver.loss, receiver.at, receiver.flies};
}

/// Gain of an end towards where the ray leaves, for the role.
Decibel end_gain(const End& end, const Ray& leaving, Role role) {
    const auto& antenna = end.antenna;
    const Degrees elevation_off = leaving.elevation() - antenna.elevation;
    if (antenna.turns) return gain(antenna.pattern, 0_deg, elevation_off);
    if (end.flies)  // heading unknown: best azimuth for a disturbance, worst for the wanted
        return gain(antenna.pattern, role == Role::wanted ? 180_deg : 0_deg, elevation_off);
    return gain(antenna, leaving);
}

Decibel polarisation_loss(const Antenna& a, const Antenna& b, bool flies, Role role) {
    return flies ? flying_polarisation_loss(a.polarisation, a.pattern.axial_ratio, b.polarisation,
                                            b.pattern.axial_ratio)
                 : fixed_polarisation_loss(a.polarisation, a.pattern.axial_ratio, b.polarisation,
                                           b.pattern.axial_ratio, role);
}

/// A link's gain but for what polarisation costs, which does not depend on the places.
Decibel gain_of_way(const End& a, const End& b, Hertz reference, Role role) {
    const Ray way(a.at, b.at);
    const bool near = way.slant_m() < touching.count();
    const Decibel gains = near ? a.antenna.pattern.peak_gain + b.antenna.pattern.peak_gain
                               : end_gain(a, way, role) + end_gain(b, Ray(b.at, a.at), role);
    return gains - a.loss - b.loss -
           path_loss(reference, Metres(way.slant_m()), Metres(a.at.z_m), Metres(b.at.z_m));
}

EndGain end_gain(const Antenna& antenna, bool flies, Role role) {
    EndGain end{antenna.pattern, antenna.elevation, antenna.azimuth, false, {}};
    if (!antenna.pattern.horizontal_width || antenna.turns) return end;
    end.looks_one_way = !flies;
    if (flies && role == Role::wanted)  // heading unknown: behind it
        end.azimuth_down = antenna.pattern.peak_gain - gain(antenna.pattern, 180_deg, Degrees(0));
    return end;
}

/// Gains from many places of a transmitter that flies to a fixed end.
std::vector<float> gains_from(const Places& places, const Transmitter& flying, const End& fixed,
                              Role role) {
    const Decibel lost =
        flying.loss + fixed.loss + polarisation_loss(flying.antenna, fixed.antenna, true, role);
    auto gains =
        gains_db(places, end_gain(flying.antenna, true, role), fixed.at,
                 end_gain(fixed.antenna, fixed.flies, role), band_reference(flying.frequency));
    for (float& gain : gains) gain -= static_cast<float>(lost.count());
    return gains;
}

/// The greatest gain between a transmitter that flies and a fixed end, over where it may be.
Decibel greatest_gain(const Transmitter& flying, const End& fixed, Hertz frequency) {
    auto at_frequency = flying;
    at_frequency.frequency = frequency;
    const Places near(near_points(std::get<Envelope>(flying.at), fixed.at));
    return Decibel(static_cast<double>(
        std::ranges::max(gains_from(near, at_frequency, fixed, Role::unwanted))));
}

double gap_m(const Envelope& a, const Envelope& b) {
    return std::hypot(a.x_m - b.x_m, a.y_m - b.y_m) - a.radius_m - b.radius_m;
}

/// The peak gain of an antenna for something at its own height.
Decibel horizontal_gain(const Antenna& antenna) {
    return gain(antenna.pattern, 0_deg, -antenna.elevation);
}

/// Two aircraft at one height, as near as they come to each other.
Decibel air_to_air(const Transmitter& from, const Transmitter& into) {
    const auto& area = std::get<Envelope>(into.at);
    const Metres d(std::max(gap_m(std::get<Envelope>(from.at), area), air_standoff.count()));
    const Metres height(area.z_low_m);
    return horizontal_gain(from.antenna) - from.loss + horizontal_gain(into.antenna) - into.loss -
           path_loss(band_reference(from.frequency), d, height, height) -
           polarisation_loss(from.antenna, into.antenna, true, Role::unwanted);
}

}  // namespace

Decibel link_gain(const End& a, const End& b, Hertz frequency, Role role) {
    return gain_of_way(a, b, band_reference(frequency), role) -
           polarisation_loss(a.antenna, b.antenna, a.flies || b.flies, role);
}

FlightGain flight_gain(const Transmitter& transmitter, const Receiver& receiver, Role role) {
    const End here = end_of(receiver);
    if (const auto* point = std::get_if<Point>(&transmitter.at))
        return {{link_gain(end_of(transmitter, *point), here, transmitter.frequency, role).count()},
                receiver.flies ? fading_flying : fading_fixed};
    const auto gains =
        gains_from(Places(places(std::get<Envelope>(transmitter.at))), transmitter, here, role);
    return {std::vector<double>(gains.begin(), gains.end()), fading_flying};
}

Decibel unwanted_gain(const Transmitter& transmitter, const Receiver& receiver, Geometry geometry) {
    if (const auto* area = std::get_if<Envelope>(&transmitter.at);
        area != nullptr && geometry == Geometry::usual)
        return usual_gain(Places(places(*area)), transmitter, receiver);
    if (geometry == Geometry::usual)
        return flight_gain(transmitter, receiver, Role::unwanted).exceeded(usual_share);
    if (const auto* point = std::get_if<Point>(&transmitter.at))
        return link_gain(end_of(transmitter, *point), end_of(receiver), transmitter.frequency,
                         Role::unwanted);
    return greatest_gain(transmitter, end_of(receiver), transmitter.frequency);
}

Decibel usual_gain(const Places& area, const Transmitter& transmitter, const Receiver& receiver) {
    return exceeded_by_many(gains_from(area, transmitter, end_of(receiver), Role::unwanted),
                            fading_flying, usual_share);
}

Decibel coupling(const Transmitter& from, const Transmitter& into) {
    const auto* from_point = std::get_if<Point>(&from.at);
    const auto* into_point = std::get_if<Point>(&into.at);
    if (from_point && into_point)
        return link_gain(end_of(from, *from_point), end_of(into, *into_point), from.frequency,
                         Role::unwanted);
    if (!from_point && !into_point) return air_to_air(from, into);
    if (from_point) return greatest_gain(into, end_of(from, *from_point), from.frequency);
    return greatest_gain(from, end_of(into, *into_point), from.frequency);
}

WantedGain::WantedGain(FlightGain of)
    : flight(std::move(of)),
      good_(flight.exceeded(good_share)),
      usable_(flight.exceeded(usable_share)),
      seldom_beyond_usable_(flight.exceeded(1 - usable_share)),
      seldom_beyond_good_(flight.exceeded(1 - good_share)) {}

Decibel WantedGain::exceeded(double share) const {
    if (share == good_share) return good_;
    if (share == usable_share) return usable_;
    if (share == 1 - usable_share) return seldom_beyond_usable_;
    if (share == 1 - good_share) return seldom_beyond_good_;
    return flight.exceeded(share);
}

LinkTable::Numbers::Numbers(const Scene& scene, LinkMemory& memory) {
    for (const auto& t : scene.transmitters) transmitters.push_back(memory.number_of(t));
    for (const auto& v : scene.receivers) receivers.push_back(memory.number_of(v));
}

LinkTable::LinkTable(const Scene& scene) : transmitters_(0) {
    LinkMemory of_this_scene;
    *this = LinkTable(scene, of_this_scene);
}

LinkTable::LinkTable(const Scene& scene, LinkMemory& memory)
    : transmitters_(scene.transmitters.size()),
      wanted_(scene.receivers.size()),
      usual_(scene.receivers.size() * transmitters_),
      closest_(usual_.size()),
      coupling_(transmitters_ * transmitters_) {
    const Numbers numbers(scene, memory);
    for (std::size_t t = 0; t < transmitters_; ++t) {
        set_links(scene, t, numbers, memory);
        for (std::size_t from = 0; from < transmitters_; ++from)
            set_coupling(from, t, numbers, memory);
    }
}

void LinkTable::update(const Scene& scene, std::size_t transmitter) {
    LinkMemory of_this_scene;
    const Numbers numbers(scene, of_this_scene);
    set_links(scene, transmitter, numbers, of_this_scene);
    for (std::size_t other = 0; other < transmitters_; ++other) {
        set_coupling(transmitter, other, numbers, of_this_scene);
        set_coupling(other, transmitter, numbers, of_this_scene);
    }
}

void LinkTable::set_links(const Scene& scene, std::size_t t, const Numbers& numbers,
                          LinkMemory& memory) {
    const auto from = numbers.transmitters[t];
    for (std::size_t v = 0; v < scene.receivers.size(); ++v) {
        const auto to = numbers.receivers[v];
        if (scene.receivers[v].hears == t) wanted_[v] = memory.wanted(from, to);
        usual_[v * transmitters_ + t] = memory.unwanted(Geometry::usual, from, to);
        closest_[v * transmitters_ + t] = memory.unwanted(Geometry::closest, from, to);
    }
}

void LinkTable::set_coupling(std::size_t from, std::size_t into, const Numbers& numbers,
                             LinkMemory& memory) {
    if (from != into)
        coupling_[into * transmitters_ + from] =
            memory.coupling(numbers.transmitters[from], numbers.transmitters[into]);
}

}  // namespace fieldpeg::spectrum
