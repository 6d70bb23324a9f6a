#include "server/day/reach.h"

#include "server/day/flights.h"
#include "server/day/remarks.h"
#include "server/day/results.h"
#include "server/day/words.h"
#include "server/spectrum/reach.h"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <set>

namespace fieldpeg::day {
namespace {

using spectrum::Air;
using spectrum::Degrees;
using spectrum::Direction;
using spectrum::Metres;

/// A receiver carries farther than another if it does by this much.
constexpr double clearly = 1.1;

/// One pilot's aircraft and who receives it.
class Reaching {
public:
    Reaching(const Assessment& a, const v1::Pilot& pilot, std::size_t transmitter,
             const ReachDetail& detail)
        : a_(a),
          pilot_(pilot),
          detail_(detail),
          t_(transmitter),
          transmitter_(a.situation().scene.transmitters[transmitter]),
          area_(std::get<spectrum::Envelope>(transmitter_.at)) {}

    v1::ReachReply reply() {
        for (std::size_t v = 0; v < a_.situation().receivers.size(); ++v)
            if (a_.situation().scene.receivers[v].hears == t_) add_receiver(v);
        add_relays();
        reply_.set_basis(a_.basis());
        reply_.set_model(std::string(model_name));
        reply_.set_pilot(pilot_.name());
        reply_.set_area(pilot_.area());
        reply_.set_low_m(milli(area_.z_low_m));
        reply_.set_high_m(milli(area_.z_high_m));
        say_which_carries_farthest();
        say_what_climbing_does();
        say_what_is_overhead();
        say_what_relays_do();
        for (const auto& caution : cautions(a_))
            if (caution.concerns.contains(pilot_.name())) reply_.add_cautions(caution.text);
        return std::move(reply_);
    }

private:
    v1::ReachLine line(std::size_t v, const Direction& direction) const {
        const auto& receiver = a_.situation().scene.receivers[v];
        const auto span = [&](double share, Air air) {
            std::optional<v1::ReachSpan> m;
            const auto found =
                spectrum::reach(direction, transmitter_, receiver, *a_.reception(v), share, air);
            if (!found) return m;
            m.emplace();
            m->set_from_m(std::round(found->from.count()));
            m->set_to_m(std::round(found->to.count()));
            return m;
        };
        v1::ReachLine m;
        m.set_azimuth_deg(milli(direction.azimuth.count()));
        m.set_height_m(milli(direction.height.count()));
        if (const auto s = span(spectrum::good_share, Air::alone)) *m.mutable_good_alone() = *s;
        if (const auto s = span(spectrum::usable_share, Air::alone)) *m.mutable_usable_alone() = *s;
        if (const auto s = span(spectrum::good_share, Air::usual)) *m.mutable_good() = *s;
        if (const auto s = span(spectrum::usable_share, Air::usual)) *m.mutable_usable() = *s;
        return m;
    }

    void add_receiver(std::size_t v) {
        const auto& of = a_.situation().receivers[v];
        const auto& receiver = a_.situation().scene.receivers[v];
        const auto rim = spectrum::far_rim(area_, receiver.at);
        if (reply_.receivers().empty()) {
            reply_.set_rim_azimuth_deg(milli(turned(rim.azimuth.count())));
            reply_.set_rim_m(milli(rim.distance.count()));
        }
        auto& m = *reply_.add_receivers();
        m.set_receiver(of.name);
        m.set_relay(of.relay);
        *m.mutable_channel() = a_.situation().transmitters[t_].channel;
        m.set_sent_dbm(milli(transmitter_.power.count()));
        const Metres middle((area_.z_low_m + area_.z_high_m) / 2);
        for (int i = 0; i < detail_.bearings; ++i)
            *m.add_by_bearing() = line(v, {Degrees(360.0 / detail_.bearings * i), middle});
        std::set<double> heights(detail_.heights_m.begin(), detail_.heights_m.end());
        heights.insert({area_.z_low_m, middle.count(), area_.z_high_m});
        for (const double height : heights)
            *m.add_by_height() = line(v, {Degrees(turned(rim.azimuth.count())), Metres(height)});
    }

    void add_relays() {
        for (std::size_t v = 0; v < a_.situation().receivers.size(); ++v) {
            const auto& of = a_.situation().receivers[v];
            if (of.owner == pilot_.name() && of.relay.empty() && of.hears != pilot_.name())
                *reply_.add_relays() = receiver_result(a_, v, 0);
        }
    }

    static double turned(double azimuth_deg) {
        return azimuth_deg < 0 ? azimuth_deg + 360 : azimuth_deg;
    }
    static std::string name(const v1::ReachReceiver& r) {
        return receiver_text(r.relay(), r.receiver());
    }
    static bool is_at(const v1::ReachLine& line, double height_m) {
        return std::abs(line.height_m() - height_m) <= 0.01;
    }
    static double carries_m(const v1::ReachLine& line) {
        return line.has_usable_alone() ? line.usable_alone().to_m() : 0;
    }

    /// Of several receivers, at the middle height towards the far rim.
    void say_which_carries_farthest() {
        if (reply_.receivers_size() < 2) return;
        const double middle = (area_.z_low_m + area_.z_high_m) / 2;
        const v1::ReachReceiver* best = nullptr;
        std::string all;
        double most = 0, next = 0;
        for (const auto& r : reply_.receivers())
            for (const auto& l : r.by_height()) {
                if (!is_at(l, middle)) continue;
                all += fmt::format("{}{} to {}", all.empty() ? "" : ", ", name(r),
                                   carries_m(l) > 0 ? distance_text(carries_m(l)) : "nowhere");
                next = carries_m(l) > most ? most : std::max(next, carries_m(l));
                if (carries_m(l) <= most) continue;
                most = carries_m(l);
                best = &r;
            }
        if (best == nullptr) {
            reply_.add_said("towards the far rim of the area none of the receivers carries");
            return;
        }
        reply_.add_said(fmt::format("towards the far rim ({}), {:.0f} m up: {}{}",
                                    compass_text(reply_.rim_azimuth_deg()), middle, all,
                                    most > clearly * next
                                        ? fmt::format("; {} carries farthest", name(*best))
                                        : "; they are much alike"));
    }

    /// Between the lowest and the highest that is flown.
    void say_what_climbing_does() {
        double low = 0, high = 0;
        for (const auto& r : reply_.receivers())
            for (const auto& l : r.by_height()) {
                if (is_at(l, area_.z_low_m)) low = std::max(low, carries_m(l));
                if (is_at(l, area_.z_high_m)) high = std::max(high, carries_m(l));
            }
        if (high > clearly * low)
            reply_.add_said(
                fmt::format("climbing with distance helps: it carries {} at {:.0f} m "
                            "up and {} at {:.0f} m, for 80 % of the time",
                            low > 0 ? distance_text(low) : "nowhere", area_.z_low_m,
                            distance_text(high), area_.z_high_m));
    }

    /// Where a narrow antenna looks past what is near and high, and another does not.
    void say_what_is_overhead() {
        for (const auto& r : reply_.receivers())
            for (const auto& l : r.by_height()) {
                if (!is_at(l, area_.z_high_m) || !l.has_usable_alone() ||
                    l.usable_alone().from_m() < 1)
                    continue;
                reply_.add_said(
                    fmt::format("{}: nearer than {} at {:.0f} m up its antenna looks "
                                "past the aircraft",
                                name(r), distance_text(l.usable_alone().from_m()), l.height_m()));
            }
    }

    void say_what_relays_do() {
        for (const auto& r : reply_.relays()) {
            if (!r.has_margin_ref_db())
                reply_.add_said(fmt::format("{} on {}: {}", r.receiver(), r.hears(), r.reason()));
            else if (r.margin_ref_db() < 0)
                reply_.add_said(
                    fmt::format("{} on {} has a picture in {} of the time, however well "
                                "the aircraft is heard",
                                r.receiver(), r.hears(), share_text(r.share())));
        }
    }

    const Assessment& a_;
    const v1::Pilot& pilot_;
    const ReachDetail& detail_;
    std::size_t t_;
    const spectrum::Transmitter& transmitter_;
    const spectrum::Envelope& area_;
    v1::ReachReply reply_;
};

}  // namespace

Result<v1::ReachReply> reach(const v1::DaySheet& sheet, const v1::Pilot& pilot,
                             v1::Basis::Kind basis, const ReachDetail& detail) {
    const Flights flights(sheet, basis);
    const auto& a = flights.of(pilot).assessment;
    const auto t = a.situation().transmitter(pilot.name());
    const auto is_flying = [&] {
        return std::holds_alternative<spectrum::Envelope>(a.situation().scene.transmitters[*t].at);
    };
    if (!pilot.has_video())
        return Refusal{Refusal::Kind::conflict, pilot.name(), "has no transmitter of their own",
                       ""};
    if (!t)
        return Refusal{Refusal::Kind::conflict, pilot.name(),
                       basis == v1::Basis::on_air ? "is not on the air" : "holds no channel",
                       basis == v1::Basis::on_air ? "leave --on-air out, to count what is held"
                                                  : "claim one first"};
    if (!is_flying())
        return Refusal{Refusal::Kind::conflict, pilot.name(), "stands on the bench",
                       "ask again when it flies"};
    const auto hears = [&](const auto& receiver) { return receiver.hears == *t; };
    if (std::ranges::none_of(a.situation().scene.receivers, hears))
        return Refusal{Refusal::Kind::conflict, pilot.name(),
                       "has no receiver that can show the video on this channel", ""};
    return Reaching(a, pilot, *t, detail).reply();
}

std::string compass_text(double azimuth_deg) {
    constexpr std::array<const char*, 8> names = {"north", "north-east", "east", "south-east",
                                                  "south", "south-west", "west", "north-west"};
    const auto eighth = static_cast<std::size_t>(std::lround(azimuth_deg / 45 + 8));
    return names[eighth % names.size()];
}

std::string distance_text(double metres) {
    const bool is_farthest = metres >= 0.99 * spectrum::reach_farthest.count();
    return is_farthest ? "100 km or more" : length_text(metres);
}

std::string length_text(double metres) {
    if (metres >= 10'000) return fmt::format("{:.0f} km", metres / 1000);
    if (metres >= 1'000) return fmt::format("{:.1f} km", metres / 1000);
    return fmt::format("{:.0f} m", metres);
}

}  // namespace fieldpeg::day
