#include "server/spectrum/link.h"

#include "server/spectrum/propagation.h"

#include <algorithm>
#include <cmath>

namespace fieldpeg::spectrum {
namespace {

End end_of(const Transmitter& transmitter, const Point& at) {
    return {transmitter.antenna, transmitter.loss, at,
            std::holds_alternative<Envelope>(transmitter.at)};
}

End end_of(const Receiver& receiver) {
    return {receiver.antenna, receiver.loss, receiver.at, false};
}

/// Gain of an end towards where the ray leaves, for the role.
Decibel end_gain(const End& end, const Ray& leaving, Role role) {
    const auto& antenna = end.antenna;
    const Degrees elevation_off = leaving.elevation() - antenna.elevation;
    if (antenna.turns)
        return role == Role::wanted ? gain(antenna.pattern, 0_deg, elevation_off)
                                    : antenna.pattern.peak_gain;
    if (end.flies)  // heading unknown: best azimuth for a disturbance, worst for the wanted
        return gain(antenna.pattern, role == Role::wanted ? 180_deg : 0_deg, elevation_off);
    return gain(antenna, leaving);
}

Decibel polarisation_loss(const Antenna& a, const Antenna& b, Role role) {
    return spectrum::polarisation_loss(a.polarisation, a.pattern.axial_ratio, b.polarisation,
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

/// The greatest gain between a transmitter that flies and a fixed end, over where it may be.
Decibel greatest_gain(const Transmitter& flying, const End& fixed, Hertz frequency) {
    const Hertz reference = band_reference(frequency);
    End end = end_of(flying, {});
    Decibel greatest(-1e9);
    for (const auto& place : near_points(std::get<Envelope>(flying.at), fixed.at)) {
        end.at = place;
        greatest = std::max(greatest, gain_of_way(end, fixed, reference, Role::unwanted));
    }
    return greatest - polarisation_loss(flying.antenna, fixed.antenna, Role::unwanted);
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
           polarisation_loss(from.antenna, into.antenna, Role::unwanted);
}

}  // namespace

Decibel link_gain(const End& a, const End& b, Hertz frequency, Role role) {
    return gain_of_way(a, b, band_reference(frequency), role) -
           polarisation_loss(a.antenna, b.antenna, role);
}

Decibel wanted_gain(const Transmitter& transmitter, const Receiver& receiver) {
    if (const auto* point = std::get_if<Point>(&transmitter.at))
        return link_gain(end_of(transmitter, *point), end_of(receiver), transmitter.frequency,
                         Role::wanted) -
               fade_wanted_ground;
    const Hertz reference = band_reference(transmitter.frequency);
    const End here = end_of(receiver);
    End there = end_of(transmitter, {});
    Decibel least(1e9);
    for (const auto& at : far_half(std::get<Envelope>(transmitter.at), receiver.at)) {
        there.at = at;
        least = std::min(least, gain_of_way(there, here, reference, Role::wanted));
    }
    return least - polarisation_loss(transmitter.antenna, receiver.antenna, Role::wanted) -
           fade_wanted_air;
}

Decibel unwanted_gain(const Transmitter& transmitter, const Receiver& receiver, Geometry geometry) {
    const auto gain_from = [&](const Point& at) {
        return link_gain(end_of(transmitter, at), end_of(receiver), transmitter.frequency,
                         Role::unwanted);
    };
    if (const auto* point = std::get_if<Point>(&transmitter.at)) return gain_from(*point);
    const auto& envelope = std::get<Envelope>(transmitter.at);
    if (geometry == Geometry::ref) return gain_from(at_quantile(envelope, receiver.at));
    return greatest_gain(transmitter, end_of(receiver), transmitter.frequency);
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

LinkTable::LinkTable(const Scene& scene)
    : transmitters_(scene.transmitters.size()),
      wanted_(scene.receivers.size()),
      ref_(scene.receivers.size() * transmitters_),
      worst_(ref_.size()),
      coupling_(transmitters_ * transmitters_) {
    for (std::size_t v = 0; v < scene.receivers.size(); ++v)
        for (std::size_t t = 0; t < transmitters_; ++t) set_link(scene, v, t);
    for (std::size_t into = 0; into < transmitters_; ++into)
        for (std::size_t from = 0; from < transmitters_; ++from) set_coupling(scene, from, into);
}

void LinkTable::update(const Scene& scene, std::size_t transmitter) {
    for (std::size_t v = 0; v < scene.receivers.size(); ++v) set_link(scene, v, transmitter);
    for (std::size_t other = 0; other < transmitters_; ++other) {
        set_coupling(scene, transmitter, other);
        set_coupling(scene, other, transmitter);
    }
}

void LinkTable::set_link(const Scene& scene, std::size_t v, std::size_t t) {
    const auto& receiver = scene.receivers[v];
    const auto& transmitter = scene.transmitters[t];
    if (receiver.hears == t) wanted_[v] = linear(wanted_gain(transmitter, receiver));
    const auto at = v * transmitters_ + t;
    ref_[at] = linear(unwanted_gain(transmitter, receiver, Geometry::ref));
    worst_[at] = linear(unwanted_gain(transmitter, receiver, Geometry::worst));
}

void LinkTable::set_coupling(const Scene& scene, std::size_t from, std::size_t into) {
    if (from == into) return;
    coupling_[into * transmitters_ + from] =
        linear(spectrum::coupling(scene.transmitters[from], scene.transmitters[into]));
}

}  // namespace fieldpeg::spectrum
