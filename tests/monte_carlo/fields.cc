#include "tests/monte_carlo/fields.h"

#include "tests/support/gear.h"
#include "tests/support/random.h"
#include "tests/support/scenes.h"

#include <algorithm>
#include <cmath>
#include <cstddef>
#include <numbers>
#include <optional>
#include <utility>
#include <variant>
#include <vector>

namespace fieldpeg::testing {
namespace {

using spectrum::Antenna;
using spectrum::Dbm;
using spectrum::Decibel;
using spectrum::Degrees;
using spectrum::Envelope;
using spectrum::Hertz;
using spectrum::Point;
using spectrum::Polarisation;
using spectrum::Scene;

constexpr double head_m = 1.7;
constexpr double cable_db = 0.5;

/// Free space takes 25 mW between omnidirectional antennas to where C/N is 10 dB.
constexpr double reach_of_25_mw_m = 400;

enum Emissions : std::size_t { fm, fm_wide, ofdm };
enum Profiles : std::size_t { ordinary, sharp, wide, digital, band_1g3 };

Dbm power_of_mw(double mw) {
    return spectrum::dbm(mw);
}

double log_between(std::mt19937_64& rng, double low, double high) {
    return std::exp(between(rng, std::log(low), std::log(high)));
}

double random_power_mw(std::mt19937_64& rng) {
    return one_of(rng, {25., 25., 25., 25., 100., 200., 200., 400., 600., 600.});
}

/// Looks at a point, give or take.
Antenna aimed(std::mt19937_64& rng, Antenna antenna, const Point& from, const Point& to,
              double give_or_take_deg) {
    const spectrum::Ray ray(from, to);
    antenna.azimuth = ray.azimuth() + Degrees(between(rng, -give_or_take_deg, give_or_take_deg));
    antenna.elevation = Degrees(std::clamp(ray.elevation().count(), 0.0, 30.0));
    return antenna;
}

Point middle(const Envelope& area) {
    return {area.x_m, area.y_m, (area.z_low_m + area.z_high_m) / 2};
}

/// What a pilot flies with.
struct Kit {
    double power_mw;
    Polarisation hand;
    std::size_t emission, profile;
};

Kit random_kit(std::mt19937_64& rng, double power_mw) {
    Kit kit{power_mw, chance(rng, 70) ? Polarisation::rhcp : Polarisation::lhcp, fm, ordinary};
    if (chance(rng, 12)) {
        kit.emission = ofdm;
        kit.profile = digital;
        return kit;
    }
    if (chance(rng, 10)) kit.emission = fm_wide;
    kit.profile = one_of<std::size_t>(rng, {ordinary, ordinary, ordinary, ordinary, sharp, wide});
    return kit;
}

class Field {
public:
    Field(std::mt19937_64& rng, bool stands_inside, int pilots)
        : rng_(rng), stands_inside_(stands_inside) {
        for (const auto* name : {"fm-video", "fm-video-wide", "ofdm-20"})
            scene_.emissions.push_back(emission(name));
        for (const auto* name : {"fm-video-5g8", "fm-video-5g8-sharp", "fm-video-5g8-wide",
                                 "ofdm-20-5g8", "fm-video-1g3"})
            scene_.profiles.push_back(receiver(name));
        choose_powers(pilots);
        choose_places();
        choose_areas();
    }

    std::size_t pilots() const { return kits_.size(); }
    Scene take() { return std::move(scene_); }

    /// A pilot with goggles on the aircraft's video.
    void add_pilot(std::size_t i) {
        add_video(i);
        add_goggles(i, scene_.transmitters.size() - 1);
    }

    /// One whose goggles hear a relay.
    void add_relay_pilot(std::size_t i) {
        if (chance(rng_, 50))
            add_1g3_relay(i);
        else
            add_5g8_relay(i);
    }

private:
    void choose_powers(int pilots) {
        const bool all_alike = chance(rng_, 50);
        const double of_all = random_power_mw(rng_);
        for (int i = 0; i < pilots; ++i)
            kits_.push_back(random_kit(rng_, all_alike ? of_all : random_power_mw(rng_)));
    }

    void choose_places() {
        const double apart_m =
            !stands_inside_ && chance(rng_, 25) ? between(rng_, 10, 40) : between(rng_, 2, 6);
        const double first = -apart_m * static_cast<double>(kits_.size() - 1) / 2;
        for (std::size_t i = 0; i < kits_.size(); ++i)
            places_.push_back({first + apart_m * static_cast<double>(i) + between(rng_, -0.5, 0.5),
                               between(rng_, -2, 0), head_m});
    }

    void choose_areas() {
        const bool is_common = chance(rng_, 55);
        const auto sizes_it =
            static_cast<std::size_t>(whole(rng_, 0, static_cast<int>(kits_.size()) - 1));
        const Envelope common = random_area(sizes_it, 0);
        for (std::size_t i = 0; i < kits_.size(); ++i)
            areas_.push_back(is_common ? common : random_area(i, places_[i].x_m));
    }

    /// Sized by a pilot's power: from easily within reach to beyond it.
    Envelope random_area(std::size_t i, double x_m) {
        const double reach_m =
            reach_of_25_mw_m * std::sqrt(kits_[i].power_mw / 25) * log_between(rng_, 0.12, 1.2);
        Envelope area = stands_inside_ ? around(std::clamp(reach_m / 1.4, 60.0, 400.0), x_m)
                                       : in_front(std::max(reach_m, 40.0), x_m);
        area.z_low_m = between(rng_, 2, 15);
        area.z_high_m = area.z_low_m + between(rng_, 8, std::min(100.0, 12 + 0.5 * area.radius_m));
        area.standoff_m =
            std::min(one_of(rng_, {30., 30., 30., 20., 10.}), half_extent(area).count());
        return area;
    }
    Envelope in_front(double far_m, double x_m) {
        const double near_m = far_m * between(rng_, 0.05, 0.35);
        const double radius_m = (far_m - near_m) / 2;
        return {x_m + far_m * between(rng_, -0.3, 0.3), near_m + radius_m, radius_m, 0, 0};
    }
    Envelope around(double radius_m, double x_m) {
        const double off_m = radius_m * between(rng_, 0, 0.6);
        const double bearing = between(rng_, 0, 2 * std::numbers::pi);
        return {x_m + off_m * std::sin(bearing), off_m * std::cos(bearing), radius_m, 0, 0};
    }
    static spectrum::Metres half_extent(const Envelope& area) {
        return spectrum::Metres(std::hypot(2 * area.radius_m, area.z_high_m - area.z_low_m) / 2);
    }

    Hertz random_channel() {
        constexpr std::int64_t first_mhz = 5658, raster_mhz = 37;
        std::vector<std::int64_t> taken, left;
        for (const auto& t : scene_.transmitters)
            if (t.frequency > 5'000_MHz) taken.push_back(t.frequency.count() / 1'000'000);
        if (!taken.empty() && chance(rng_, 25)) {
            const auto beside =
                taken[static_cast<std::size_t>(whole(rng_, 0, static_cast<int>(taken.size()) - 1))];
            const auto off = one_of(rng_, {10, 15, 18, 20, 22, 25, 28, 30, 33});
            return Hertz((beside + (beside < 5'790 ? off : -off)) * 1'000'000);
        }
        for (int k = 0; k < 8; ++k)
            if (std::ranges::find(taken, first_mhz + raster_mhz * k) == taken.end())
                left.push_back(first_mhz + raster_mhz * k);
        const auto& from = left.empty() ? taken : left;
        return Hertz(
            from[static_cast<std::size_t>(whole(rng_, 0, static_cast<int>(from.size()) - 1))] *
            1'000'000);
    }

    std::size_t add_video(std::size_t i) {
        const auto& kit = kits_[i];
        scene_.transmitters.push_back({kit.emission, random_channel(), power_of_mw(kit.power_mw),
                                       upright("circular-omni", kit.hand), Decibel(cable_db),
                                       areas_[i]});
        return scene_.transmitters.size() - 1;
    }

    void add_receiver(std::size_t i, std::size_t profile, std::size_t hears, const Antenna& antenna,
                      const Point& at, std::optional<std::size_t> feeds = std::nullopt) {
        scene_.receivers.push_back({profile, hears, antenna, Decibel(cable_db), at, i, feeds});
    }

    Antenna patch(std::size_t i, const Point& at, const Point& towards) {
        auto antenna = aimed(rng_, upright("circular-patch", kits_[i].hand), at, towards, 15);
        antenna.turns = chance(rng_, 15);
        return antenna;
    }

    /// Omnidirectional, a patch, or both.
    void add_goggles(std::size_t i, std::size_t hears) {
        const auto& kit = kits_[i];
        const int kind = whole(rng_, 1, 100);
        const int omni_only = stands_inside_ ? 65 : 45, with_patch = stands_inside_ ? 90 : 80;
        if (kind <= with_patch)
            add_receiver(i, kit.profile, hears, upright("circular-omni", kit.hand), places_[i]);
        if (kind > omni_only)
            add_receiver(i, kit.profile, hears, patch(i, places_[i], middle(areas_[i])),
                         places_[i]);
    }

    /// Somewhere about a point, but not on top of a pilot.
    Point beside(const Point& about, double from_m, double to_m) {
        Point at;
        do {
            const double away = between(rng_, from_m, to_m);
            const double bearing = between(rng_, 0, 2 * std::numbers::pi);
            at = {about.x_m + away * std::sin(bearing), about.y_m + away * std::cos(bearing),
                  between(rng_, 2, 4)};
        } while (std::ranges::any_of(
            places_, [&](const Point& p) { return spectrum::Ray(p, at).slant_m() < 2; }));
        return at;
    }

    /// A relay's transmitter and what its owner hears it with.
    std::size_t add_relay(std::size_t i, std::size_t emission, const Point& at, double most_mw) {
        const auto hand = kits_[i].hand;
        auto antenna = upright("circular-omni", hand);
        if (chance(rng_, 25))
            antenna = aimed(rng_, upright("circular-patch", hand), at, places_[i], 10);
        const double mw = std::min(most_mw, one_of(rng_, {25., 25., 25., 50., 100., 200.}));
        scene_.transmitters.push_back(
            {emission, random_channel(), power_of_mw(mw), antenna, Decibel(cable_db), at});
        const auto relay = scene_.transmitters.size() - 1;
        const std::size_t profile = emission == ofdm ? digital : kits_[i].profile;
        add_receiver(i, profile, relay, upright("circular-omni", hand), places_[i]);
        if (chance(rng_, 25)) add_receiver(i, profile, relay, patch(i, places_[i], at), places_[i]);
        return relay;
    }

    /// First hop on 1.3 GHz, two receivers at a tripod, the relay's transmitter beside it.
    void add_1g3_relay(std::size_t i) {
        kits_[i].emission = fm;
        if (kits_[i].profile == digital) kits_[i].profile = ordinary;
        if (!stands_inside_ && chance(rng_, 50)) areas_[i] = far_away();
        const Hertz channel = one_of(rng_, {1'240_MHz, 1'258_MHz, 1'280_MHz, 1'300_MHz, 1'320_MHz});
        scene_.transmitters.push_back({fm, channel, power_of_mw(one_of(rng_, {200., 400., 800.})),
                                       upright("vertical-omni-1g3", Polarisation::vertical),
                                       Decibel(cable_db), areas_[i]});
        const auto video = scene_.transmitters.size() - 1;
        const Point tripod = beside(places_[i], 3, 30);
        const auto relay = add_relay(i, fm, beside(tripod, 0.5, 3), 200);
        add_receiver(i, band_1g3, video, upright("vertical-omni-1g3", Polarisation::vertical),
                     tripod, relay);
        add_receiver(i, band_1g3, video,
                     aimed(rng_, upright("wide-panel", Polarisation::vertical), tripod,
                           middle(areas_[i]), 10),
                     tripod, relay);
    }

    Envelope far_away() {
        const double far_m = log_between(rng_, 500, 15'000);
        Envelope area = in_front(far_m, 0);
        area.z_low_m = between(rng_, 20, 60);
        area.z_high_m = area.z_low_m + between(rng_, 20, 80);
        return area;
    }

    /// First hop on 5.8 GHz: the relay's transmitter stands well away from its receivers.
    void add_5g8_relay(std::size_t i) {
        const auto video = add_video(i);
        const auto& kit = kits_[i];
        const Point tripod = beside(places_[i], 3, 30);
        const auto relay =
            add_relay(i, kit.emission == ofdm ? ofdm : fm, beside(tripod, 8, 30), 200);
        add_receiver(i, kit.profile, video, upright("circular-omni", kit.hand), tripod, relay);
        add_receiver(
            i, kit.profile, video,
            aimed(rng_, upright("circular-patch", kit.hand), tripod, middle(areas_[i]), 15), tripod,
            relay);
        // Some look at the aircraft's own video as well.
        if (chance(rng_, 25)) add_goggles(i, video);
    }

    std::mt19937_64& rng_;
    bool stands_inside_;
    Scene scene_;
    std::vector<Kit> kits_;
    std::vector<Point> places_;
    std::vector<Envelope> areas_;
};

}  // namespace

Scene random_field(std::mt19937_64& rng, FieldKind kind) {
    const bool has_relays = kind == FieldKind::relays;
    const bool stands_inside = kind == FieldKind::inside || (has_relays && chance(rng, 40));
    const int pilots =
        has_relays ? whole(rng, 2, 5) : whole(rng, stands_inside ? 1 : 2, stands_inside ? 6 : 7);
    Field field(rng, stands_inside, pilots);
    const auto with_relay = static_cast<std::size_t>(has_relays ? whole(rng, 1, 2) : 0);
    for (std::size_t i = 0; i < field.pilots(); ++i) {
        if (i < with_relay)
            field.add_relay_pilot(i);
        else
            field.add_pilot(i);
    }
    return field.take();
}

}  // namespace fieldpeg::testing
