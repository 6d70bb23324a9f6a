#include "server/day/remarks.h"

#include "server/day/power_limit.h"
#include "server/day/words.h"
#include "server/spectrum/geometry.h"
#include "server/spectrum/own_craft.h"

#include <fmt/format.h>
#include <fmt/ranges.h>

#include <algorithm>
#include <cmath>
#include <iterator>
#include <string>
#include <utility>
#include <vector>

namespace fieldpeg::day {
namespace {

bool overlaps(double low, double high, double from, double to) {
    return low < to && from < high;
}

std::string rule_source(const v1::RuleSet& rules) {
    return fmt::format("{}, edition {}, {}", rules.source(), rules.edition(), rules.date());
}

double metres_between(const spectrum::Point& a, const spectrum::Point& b) {
    return spectrum::Ray(a, b).slant_m();
}

bool in_front_end(const Situation& s, std::size_t t, std::size_t v) {
    return spectrum::is_in_front_end(s.scene.profiles[s.scene.receivers[v].profile],
                                     s.scene.transmitters[t].frequency);
}

/// Antennas so near to each other that the model knows no direction.
void add_touching(const Situation& s, std::vector<Caution>& list) {
    for (std::size_t t = 0; t < s.transmitters.size(); ++t) {
        const auto* at = std::get_if<spectrum::Point>(&s.scene.transmitters[t].at);
        if (!at) continue;
        const auto& of = s.transmitters[t];
        const bool is_in_hand = of.source == Source::handset || of.source == Source::uplink;
        for (std::size_t v = 0; v < s.receivers.size(); ++v)
            if (in_front_end(s, t, v) && !(is_in_hand && s.receivers[v].owner == of.owner) &&
                metres_between(*at, s.scene.receivers[v].at) < spectrum::touching.count())
                list.push_back(
                    {{s.transmitters[t].owner, s.receivers[v].owner},
                     fmt::format("{} and {}'s {} stand in the same place; margins there are rough: "
                                 "measure, or give each its own place",
                                 s.transmitters[t].name, s.receivers[v].owner,
                                 s.receivers[v].name)});
    }
}

/// A receiver tuned to something its front end does not let through.
void add_out_of_band(const Situation& s, std::vector<Caution>& list) {
    for (std::size_t v = 0; v < s.receivers.size(); ++v) {
        const auto hears = s.scene.receivers[v].hears;
        if (!hears || in_front_end(s, *hears, v)) continue;
        list.push_back(
            {{s.receivers[v].owner},
             fmt::format("{}'s {} is a {}: {} lies outside its band", s.receivers[v].owner,
                         s.receivers[v].name, s.receivers[v].gear->receiver(),
                         channel_text(s.transmitters[*hears].channel))});
    }
}

const v1::Area* area_of(const v1::DaySheet& sheet, const v1::Pilot& pilot) {
    const auto& all = sheet.field().areas();
    const auto found = std::ranges::find(all, pilot.area(), &v1::Area::name);
    return found == all.end() ? nullptr : &*found;
}

/// Where a pilot steers from.
const v1::Place* place_of(const v1::DaySheet& sheet, const v1::Pilot& pilot) {
    const auto& all = sheet.field().places();
    const auto& name = pilot.handset().place().empty() ? pilot.place() : pilot.handset().place();
    const auto found = std::ranges::find(all, name, &v1::Place::name);
    return found == all.end() ? nullptr : &*found;
}

/// Who is looked at on more channels than the one that is held.
void add_movers(const Situation& s, std::vector<Caution>& list) {
    for (const auto& of : s.transmitters) {
        std::vector<std::string> names{of.channel.name()};
        for (const auto& channel : moves_to(of)) names.push_back(channel.name());
        if (names.size() > 1)
            list.push_back({{of.owner},
                            fmt::format("{} moves by itself: everybody is shown as it is worst "
                                        "for them, {} being on one of {}",
                                        of.name, of.name, fmt::join(names, ", "))});
    }
}

/// Video, or a harmonic of the pilot's own, in a band that something on an aircraft listens to.
void add_onboard(const Situation& s, const v1::Pilot& pilot, double low_mhz, double high_mhz,
                 std::string_view what, std::vector<Caution>& list) {
    constexpr double half_width_mhz = 10;
    for (const auto& of : s.transmitters) {
        if (of.source == Source::handset || of.source == Source::emitter) continue;
        const double mhz = of.channel.mhz();
        const auto hits = [&](double order) {
            return overlaps(low_mhz, high_mhz, order * (mhz - half_width_mhz),
                            order * (mhz + half_width_mhz));
        };
        const bool direct = hits(1);
        if (!direct && !(of.owner == pilot.name() && (hits(2) || hits(3)))) continue;
        list.push_back(
            {{pilot.name(), of.owner},
             fmt::format("{} on {} {} the band of {}'s {}; that is not in the margins: range-test "
                         "with the video on before flying",
                         of.name, channel_text(of.channel),
                         direct ? "lies in" : "has a harmonic in", pilot.name(), what)});
    }
}

/// What the pilot's own transmitters do to the positioning of their aircraft, by assumed values.
void add_positioning(const Situation& s, const v1::DaySheet& sheet, const v1::Pilot& pilot,
                     const v1::PositioningReceiver& receiver, std::vector<Caution>& list) {
    const auto* area = area_of(sheet, pilot);
    const auto* place = place_of(sheet, pilot);
    if (area == nullptr || place == nullptr) return;
    spectrum::Positioning positioning{{},
                                      spectrum::Decibel(receiver.noise_figure_db()),
                                      spectrum::far_rim_half_way_up(envelope(*area), point(*place)),
                                      {},
                                      {}};
    for (const auto& band : receiver.bands())
        positioning.bands.push_back(
            {spectrum::from_mhz(band.low_mhz()), spectrum::from_mhz(band.high_mhz())});
    for (std::size_t t = 0; t < s.transmitters.size(); ++t) {
        const auto& of = s.transmitters[t];
        if (of.owner != pilot.name()) continue;
        positioning.own.push_back(t);
        if (of.source == Source::video) positioning.aboard.push_back(t);
    }
    const auto is = spectrum::own_craft(s.scene, positioning);
    const auto tell = [&](std::string what) {
        list.push_back(
            {{pilot.name()},
             fmt::format("{}'s positioning: {}, if 20 dB lie between the antennas of one "
                         "aircraft (assumed); look at its satellites with the video on, "
                         "before flying",
                         pilot.name(), what)});
    };
    if (is.is_swamped)
        tell(fmt::format("{} drowns it", s.transmitters[*is.blocker].source == Source::video
                                             ? "its own video"
                                             : s.transmitters[*is.blocker].name));
    else if (is.word != spectrum::PositioningWord::steady)
        tell(fmt::format("{} of {} at {} MHz lies {:.0f} dB {} its noise",
                         is.from.size() == 1 ? "a harmonic" : "a product",
                         s.transmitters[is.from.front()].name,
                         mhz_text(spectrum::mhz(is.strongest)), std::abs(is.over_noise->count()),
                         is.over_noise->count() < 0 ? "below" : "above"));
}

void add_all_onboard(const Situation& s, const v1::DaySheet& sheet, std::vector<Caution>& list) {
    for (const auto& pilot : sheet.pilots()) {
        for (const auto& link : sheet.control_links())
            if (link.name() == pilot.control_link())
                add_onboard(s, pilot, link.low_mhz(), link.high_mhz(), "control link", list);
        for (const auto& receiver : sheet.positioning_receivers()) {
            if (receiver.name() != pilot.positioning_receiver()) continue;
            for (const auto& band : receiver.bands())
                add_onboard(s, pilot, band.low_mhz(), band.high_mhz(), "positioning receiver",
                            list);
            add_positioning(s, sheet, pilot, receiver, list);
        }
    }
}

}  // namespace

spectrum::Dbm eirp(const spectrum::Transmitter& transmitter) {
    return transmitter.power - transmitter.loss + transmitter.antenna.pattern.peak_gain;
}

std::vector<v1::Remark> remarks(const Occupied& occupied, const v1::RuleSet* rules,
                                const google::protobuf::RepeatedPtrField<v1::Service>& services) {
    std::vector<v1::Remark> list;
    const auto add = [&](std::string text, std::string source) {
        v1::Remark remark;
        remark.set_text(std::move(text));
        remark.set_source(std::move(source));
        list.push_back(std::move(remark));
    };
    const double low = occupied.channel.mhz() - occupied.width_mhz / 2;
    const double high = occupied.channel.mhz() + occupied.width_mhz / 2;
    const auto band =
        fmt::format("{}, occupied {:.1f}-{:.1f} MHz", channel_text(occupied.channel), low, high);
    if (rules) {
        const auto inside = [&](const v1::Allowance& a) {
            return a.low_mhz() <= low && high <= a.high_mhz();
        };
        const auto allowance = std::ranges::find_if(rules->allowances(), inside);
        if (allowance == rules->allowances().end()) {
            add(fmt::format("{}: not within a band of '{}'", band, rules->title()),
                rule_source(*rules));
            list.back().set_outside(true);
        } else if (allowance->has_eirp_dbm_max() && occupied.eirp_dbm &&
                   *occupied.eirp_dbm > allowance->eirp_dbm_max() + 0.01)
            add(fmt::format("{}: {} e.i.r.p. exceeds {} of '{}' by {:.1f} dB", band,
                            power_text(*occupied.eirp_dbm), power_text(allowance->eirp_dbm_max()),
                            rules->title(), *occupied.eirp_dbm - allowance->eirp_dbm_max()),
                rule_source(*rules));
    }
    for (const auto& service : services)
        if (overlaps(low, high, service.low_mhz(), service.high_mhz()))
            add(fmt::format("{}: touches {}, {}-{} MHz: {}", band, service.name(),
                            mhz_text(service.low_mhz()), mhz_text(service.high_mhz()),
                            service.note()),
                service.source());
    return list;
}

std::vector<v1::Remark> remarks(const Situation& situation, std::size_t transmitter,
                                const v1::DaySheet& sheet) {
    const auto& of = situation.transmitters[transmitter];
    // The rule sets here are those of video; networks and control have their own.
    if (of.source == Source::handset || of.source == Source::emitter) return {};
    const auto emission =
        std::ranges::find(sheet.emissions(), of.gear->emission(), &v1::Emission::name);
    std::vector<v1::Remark> list;
    auto channels = moves_to(of);
    channels.insert(channels.begin(), of.channel);
    for (const auto& channel : channels)
        std::ranges::move(remarks(Occupied{channel, emission->occupied_mhz(),
                                           eirp(situation.scene.transmitters[transmitter]).count()},
                                  sheet.has_rules() ? &sheet.rules() : nullptr, sheet.services()),
                          std::back_inserter(list));
    const double sent_dbm = situation.scene.transmitters[transmitter].power.count();
    if (auto above = above_limit_text(sheet, sent_dbm); !above.empty() && !of.owner.empty()) {
        auto& remark = list.emplace_back();
        remark.set_text(std::move(above));
        remark.set_source("the day file");
        remark.set_above_limit(true);
    }
    for (auto& remark : list) {
        remark.set_owner(of.owner);
        remark.set_transmitter(of.name);
    }
    return list;
}

std::vector<Caution> cautions(const Assessment& assessment) {
    std::vector<Caution> list;
    add_movers(assessment.situation(), list);
    for (const auto* moment : assessment.moments()) {
        std::vector<Caution> here;
        add_touching(moment->situation(), here);
        add_out_of_band(moment->situation(), here);
        add_all_onboard(moment->situation(), moment->sheet(), here);
        for (auto& caution : here)
            if (std::ranges::find(list, caution.text, &Caution::text) == list.end())
                list.push_back(std::move(caution));
    }
    return list;
}

}  // namespace fieldpeg::day
