#include "server/spectrum/margin.h"

#include "server/spectrum/blocking.h"
#include "server/spectrum/rejection.h"
#include "server/spectrum/standing.h"
#include "tests/support/assessed.h"
#include "tests/support/gear.h"
#include "tests/support/random.h"
#include "tests/support/scenes.h"

#include <gtest/gtest.h>

#include <algorithm>
#include <cmath>
#include <cstddef>
#include <optional>
#include <random>
#include <vector>

namespace fieldpeg::spectrum {
namespace {

using testing::Assessed;
using testing::between;
using testing::Channels;
using testing::for_all;
using testing::random_scene;
using testing::whole;

constexpr double rounding_db = 1e-9;
constexpr Air airs[] = {Air::usual, Air::closest, Air::alone};

std::size_t someone(std::mt19937_64& rng, std::size_t size) {
    return static_cast<std::size_t>(whole(rng, 0, static_cast<int>(size) - 1));
}

Channels some_channels(std::mt19937_64& rng) {
    return testing::one_of(rng, {Channels::one_band, Channels::fine, Channels::three_bands});
}

/// D by section 6.5 of docs/model.md, for T of so many mW.
double desensitisation_db(double blockers_mw, double p1db_dbm) {
    if (blockers_mw <= 0) return 0;
    const double x = 10 * std::log10(blockers_mw) - p1db_dbm - 9.636;
    return x <= -6.0206 ? -20 * std::log10(1 - 2 * std::pow(10, x / 10))
                        : 6.0206 + 2 * (x + 6.0206);
}

/// J by section 7, from the terms of the budget.
double floor_dbm(const Reception& r, Air air) {
    const double n_dbm = -113.975 + 10 * std::log10(mhz(noise_bandwidth(r.profile->selectivity))) +
                         r.profile->noise_figure.count();
    if (air == Air::alone) return n_dbm;
    const auto& b = r.budget(air == Air::usual ? Geometry::usual : Geometry::closest);
    const double i_mw = b.adjacent_mw + b.burst_mw + b.harmonic_mw + b.receiver_product_mw +
                        b.transmitter_product_mw;
    const double t_mw = b.blockers ? std::pow(10, b.blockers->count() / 10) : 0;
    return desensitisation_db(t_mw, r.profile->p1db.count()) +
           10 * std::log10(std::pow(10, n_dbm / 10) + i_mw);
}

// Section 7 of docs/model.md, written down once more: M = min(C - J - required, O).
TEST(Margin, IsWhatTheModelSays) {
    constexpr double printed_db = 0.001;  // k T0 has three decimals, the cubic's 9.636 as well
    for_all(60, [](std::mt19937_64& rng) {
        const Assessed day(random_scene(rng, some_channels(rng), 6));
        for (std::size_t v = 0; v < day.receptions.size(); ++v) {
            const auto& r = day.receptions[v];
            if (!r) continue;
            const auto& receiver = day.scene.receivers[v];
            const auto& t = day.scene.transmitters[*receiver.hears];
            const auto& profile = day.scene.profiles[receiver.profile];
            const bool inside =
                profile.front_end_low <= t.frequency && t.frequency <= profile.front_end_high;
            const double sent =
                t.power.count() - (inside ? 0 : profile.front_end_rejection.count());
            const auto flight = flight_gain(t, receiver, Role::wanted);
            for (const auto air : airs) {
                const double j = floor_dbm(*r, air);
                EXPECT_NEAR(r->floor(air).count(), j, printed_db);
                for (const double q : {0.98, 0.80, 0.5}) {
                    const double c = sent + flight.exceeded(q).count() - receiver.body.count();
                    const double o =
                        profile.strongest_wanted.count() - (sent + flight.exceeded(1 - q).count());
                    EXPECT_NEAR(r->wanted(q).count(), c, 1e-5);
                    EXPECT_NEAR(r->closeness(q).count(), o, 1e-5);
                    const auto with = [&](Demand demand, bool heeds_closeness) {
                        return margin(*r, Aim{demand, q, air, heeds_closeness}).count();
                    };
                    const double watchable = c - j - profile.watchable.count();
                    const double sharp = c - j - profile.sharp.count();
                    EXPECT_NEAR(with(Demand::watchable, true), std::min(watchable, o), printed_db);
                    EXPECT_NEAR(with(Demand::watchable, false), watchable, printed_db);
                    EXPECT_NEAR(with(Demand::sharp, true), std::min(sharp, o), printed_db);
                }
            }
        }
    });
}

/// A receiver that gets so much, and nothing else is on the air.
struct Alone {
    explicit Alone(const char* profile_name)
        : profile(testing::receiver(profile_name)),
          gain(FlightGain({-66, -64, -62, -60}, 3.8_dB)),
          reception{&profile, &gain, -4_dBm, 0_dB, -94_dBm, true, {}} {}
    Alone(const Alone&) = delete;
    Alone& operator=(const Alone&) = delete;

    /// Least margin at watchable for a share.
    double least(double share = 0.98) const {
        return margin(reception, {Demand::watchable, share, Air::usual}).count();
    }

    ReceiverProfile profile;
    WantedGain gain;
    Reception reception;
};

// What takes a margin is the desensitisation, and it takes all of it. At 8.356 dB below the
// intercept point 3 dB [Razavi, ch. 2, desensitisation], recomputed.
TEST(Margin, IsLessByTheDesensitisation) {
    auto scene = Scene{};
    scene.emissions.push_back(testing::emission("fm-video"));
    scene.profiles.push_back(testing::receiver("fm-video-5g8"));
    const auto omni = testing::upright("circular-omni", Polarisation::rhcp);
    scene.transmitters.push_back({0, 5'500_MHz, 14_dBm, omni, 0_dB, Point{0, 30, 5}});
    scene.transmitters.push_back({0, 6'100_MHz, 14_dBm, omni, 0_dB, Point{3, 0, 1.7}});
    scene.receivers.push_back({0, 0, omni, 0_dB, {0, 0, 1.7}});
    const Decibel gain = unwanted_gain(scene.transmitters[1], scene.receivers[0], Geometry::usual);
    scene.transmitters[1].power = scene.profiles[0].p1db + Decibel(9.636 - 8.356) - gain;
    const Assessed day(scene);  // 600 MHz off: nothing but its strength counts
    const auto& r = *day.receptions[0];
    EXPECT_EQ(r.budget(Geometry::usual).interference_mw(), 0);
    for (const double share : {0.98, 0.80})
        EXPECT_NEAR((margin(r, {Demand::watchable, share, Air::alone}) -
                     margin(r, {Demand::watchable, share, Air::usual}))
                        .count(),
                    3, 0.001);
}

// Every kind of disturbance counts alike: as strong as the noise, each costs 3 dB.
TEST(Margin, IsLessByEachKindOfDisturbance) {
    Alone at("fm-video-5g8");
    const double alone = at.least();
    for (const auto kind : {&Budget::adjacent_mw, &Budget::burst_mw, &Budget::harmonic_mw,
                            &Budget::receiver_product_mw, &Budget::transmitter_product_mw}) {
        at.reception.budgets[0] = {};
        at.reception.budgets[0].*kind = milliwatts(-94_dBm);
        EXPECT_NEAR(alone - at.least(), 3.0103, 1e-4);
        EXPECT_NEAR(margin(at.reception, {Demand::watchable, 0.98, Air::closest}).count(), alone,
                    rounding_db);
    }
}

/// How often a level flown at random is above one and below another.
template <class Good>
double share_flown(std::mt19937_64& rng, const FlightGain& flight, Good good) {
    constexpr int times = 40'000;
    std::normal_distribution<double> fading(0, flight.fading().count());
    int held = 0;
    for (int i = 0; i < times; ++i) {
        const double median = flight.medians_db()[someone(rng, flight.medians_db().size())];
        held += good(median + fading(rng)) ? 1 : 0;
    }
    return static_cast<double>(held) / times;
}

// A transmitter is too strong where its level is above what the receiver stands, which it is on the
// best places and in the strongest moments, not on the weakest: there is room for a share of the
// flight if the level stays below for that share.
TEST(Closeness, IsLeftForTheShareOfTheFlightThatStaysBelow) {
    constexpr double luck = 0.012;
    for_all(8, [](std::mt19937_64& rng) {
        Alone at("ofdm-20-5g8");  // takes -20 dBm of its own
        at.reception.sent = Dbm(between(rng, 38, 48));
        for (const double share : {0.98, 0.80, 0.30}) {
            const Decibel room = at.reception.closeness(share);
            const double below = share_flown(rng, at.gain.flight, [&](double gain_db) {
                return at.reception.sent.count() + gain_db < -20 - room.count();
            });
            EXPECT_NEAR(below, share, luck);
        }
    });
}

// A picture is there where the level is strong enough and not too strong: section 7, P. Of the two
// conditions the one that is met less often counts.
TEST(Share, IsThatOfAFlightThatIsFlown) {
    constexpr double luck = 0.012;
    for_all(8, [](std::mt19937_64& rng) {
        Alone at("ofdm-20-5g8");
        at.reception.sent = Dbm(between(rng, -30, 50));
        at.reception.body = Decibel(between(rng, 0, 10));
        at.reception.budgets[0].adjacent_mw = milliwatts(Dbm(between(rng, -100, -80)));
        const double needed =
            at.reception.floor(Air::usual).count() + 10 + at.reception.body.count();
        const double sent = at.reception.sent.count();
        const double strong = share_flown(rng, at.gain.flight,
                                          [&](double gain_db) { return sent + gain_db > needed; });
        const double bearable =
            share_flown(rng, at.gain.flight, [&](double gain_db) { return sent + gain_db < -20; });
        EXPECT_NEAR(share(at.reception, Demand::watchable, Air::usual), std::min(strong, bearable),
                    luck);
    });
}

// Each of the two may be the one that rules.
TEST(Margin, IsRuledByTheLesser) {
    Alone at("ofdm-20-5g8");
    const double far = at.least();
    EXPECT_NEAR(far, -4 + at.gain.exceeded(0.98).count() + 94 - 10, rounding_db);
    at.reception.sent = 45_dBm;
    EXPECT_NEAR(at.least(), -20 - 45 - at.gain.exceeded(0.02).count(), rounding_db);
    at.reception.budgets[0].adjacent_mw = milliwatts(0_dBm);
    EXPECT_NEAR(at.least(), 45 + at.gain.exceeded(0.98).count() - 10, 0.001);
}

TEST(Margin, AloneIsThatWhenNobodyElseIsOnTheAir) {
    for_all(40, [](std::mt19937_64& rng) {
        const Assessed crowded(random_scene(rng, Channels::one_band, 5));
        const auto v = someone(rng, crowded.scene.receivers.size());
        if (!crowded.receptions[v]) return;
        auto scene = crowded.scene;
        auto listens = scene.receivers[v];
        scene.transmitters = {scene.transmitters[*listens.hears]};
        listens.hears = 0;
        scene.receivers = {listens};
        const Assessed lonely(scene);
        EXPECT_FALSE(lonely.receptions[0]->budget(Geometry::usual).blockers);
        for (const double share : {0.98, 0.80}) {
            const Aim nobody{Demand::watchable, share, Air::alone};
            const Aim as_it_is{Demand::watchable, share, Air::usual};
            EXPECT_NEAR(margin(*crowded.receptions[v], nobody).count(),
                        margin(*lonely.receptions[0], as_it_is).count(), rounding_db);
        }
    });
}

// More than its front end stands, or desensitised by more than noise and interference cost.
TEST(Swamped, IsOneWhoseFrontEndIsTheTrouble) {
    Alone at("fm-video-5g8");  // P1dB -29.6 dBm
    auto& b = at.reception.budgets[0];
    EXPECT_FALSE(is_swamped(at.reception));
    b.blockers = -29.5_dBm;
    EXPECT_TRUE(is_swamped(at.reception));
    EXPECT_FALSE(is_swamped(at.reception, Geometry::closest));
    b.blockers = -31_dBm;
    b.desensitisation = 2_dB;
    EXPECT_TRUE(is_swamped(at.reception));
    EXPECT_TRUE(is_ruled_by_desensitisation(at.reception));
    b.adjacent_mw = milliwatts(-94_dBm);  // costs 3 dB
    EXPECT_FALSE(is_swamped(at.reception));
    b.blockers = -29.5_dBm;
    EXPECT_TRUE(is_swamped(at.reception));
    EXPECT_FALSE(is_ruled_by_desensitisation(at.reception));
}

// At the 1 dB compression point the gain for a weak signal beside falls by 2.1 dB, 20 log10(1 - 2 x
// 10^-0.9636), derived: that much is named swamped.
TEST(Swamped, BeginsWhereTheDesensitisationIsTwoDecibels) {
    EXPECT_NEAR(desensitisation(-29.6_dBm, -29.6_dBm).count(), 2.13, 0.005);
}

// A receiver tuned to something outside its front end loses the wanted signal there too.
TEST(Reception, LosesTheWantedSignalOutsideTheFrontEnd) {
    auto profile = testing::receiver("fm-video-5g8");
    Scene scene;
    scene.emissions.push_back(testing::emission("fm-video"));
    scene.profiles = {profile, profile};
    scene.profiles[1].front_end_low = 5'850_MHz;
    const auto omni = testing::upright("circular-omni", Polarisation::rhcp);
    scene.transmitters.push_back({0, 5'800_MHz, 14_dBm, omni, 0.5_dB, Envelope{0, 80, 50, 3, 40}});
    scene.receivers.push_back({0, 0, omni, 0.5_dB, {0, 0, 1.7}});
    scene.receivers.push_back({1, 0, omni, 0.5_dB, {0, 0, 1.7}});
    const Assessed day(scene);
    EXPECT_NEAR((day.receptions[0]->wanted(0.98) - day.receptions[1]->wanted(0.98)).count(),
                profile.front_end_rejection.count(), rounding_db);
}

// A head between goggles and a relay takes of the wanted signal, not of what disturbs or overloads.
TEST(Reception, LosesOnlyTheWantedSignalToABody) {
    for_all(20, [](std::mt19937_64& rng) {
        auto scene = random_scene(rng, Channels::one_band, 4);
        for (auto& v : scene.receivers) v.body = 0_dB;
        const Assessed bare(scene);
        for (auto& v : scene.receivers) v.body = 10_dB;
        const Assessed worn(scene);
        for (std::size_t v = 0; v < scene.receivers.size(); ++v) {
            if (!bare.receptions[v]) continue;
            const auto &before = *bare.receptions[v], &after = *worn.receptions[v];
            EXPECT_NEAR((before.wanted(0.98) - after.wanted(0.98)).count(), 10, rounding_db);
            EXPECT_EQ(before.closeness(0.98), after.closeness(0.98));
            for (const auto air : airs) EXPECT_EQ(before.floor(air), after.floor(air));
        }
    });
}

// --- section 9 of docs/model.md: what a search may rest on

void expect_no_better(const Assessed& before, const Assessed& after,
                      std::optional<std::size_t> raised) {
    for (std::size_t v = 0; v < before.receptions.size(); ++v) {
        if (!before.receptions[v] || before.scene.receivers[v].hears == raised) continue;
        const auto &was = *before.receptions[v], &is = *after.receptions[v];
        for (const auto air : airs) {
            for (const auto demand : {Demand::watchable, Demand::sharp}) {
                EXPECT_LE(share(is, demand, air), share(was, demand, air) + 1e-9);
                for (const double q : {0.98, 0.80})
                    EXPECT_LE(margin(is, {demand, q, air}).count(),
                              margin(was, {demand, q, air}).count() + rounding_db)
                        << "receiver " << v;
            }
        }
    }
}

TEST(Assess, NeverRaisesAMarginByOneTransmitterMore) {
    for_all(60, [](std::mt19937_64& rng) {
        const Assessed before(random_scene(rng, some_channels(rng), 5));
        auto scene = before.scene;
        const auto other = random_scene(rng, Channels::one_band, 2);
        scene.transmitters.push_back(other.transmitters[0]);
        scene.transmitters.back().emission = 0;
        expect_no_better(before, Assessed(scene), std::nullopt);
    });
}

TEST(Assess, NeverRaisesAnotherMarginByMorePower) {
    for_all(60, [](std::mt19937_64& rng) {
        const Assessed before(random_scene(rng, some_channels(rng), 5));
        auto scene = before.scene;
        const auto t = someone(rng, scene.transmitters.size());
        scene.transmitters[t].power = scene.transmitters[t].power + Decibel(between(rng, 0, 15));
        expect_no_better(before, Assessed(scene), t);
    });
}

// Until its own signal is too strong, a receiver gains decibel by decibel with its own transmitter.
TEST(Assess, RaisesTheOwnMarginWithTheOwnPower) {
    for_all(40, [](std::mt19937_64& rng) {
        const Assessed before(random_scene(rng, Channels::one_band, 5));
        const auto v = someone(rng, before.scene.receivers.size());
        if (!before.receptions[v]) return;
        auto scene = before.scene;
        auto& power = scene.transmitters[*scene.receivers[v].hears].power;
        power = power + 4_dB;
        const Assessed after(scene);
        const Aim aim{Demand::watchable, 0.98, Air::usual, false};
        EXPECT_NEAR(
            (margin(*after.receptions[v], aim) - margin(*before.receptions[v], aim)).count(), 4,
            rounding_db);
        EXPECT_NEAR(
            (after.receptions[v]->closeness(0.8) - before.receptions[v]->closeness(0.8)).count(),
            -4, rounding_db);
    });
}

}  // namespace
}  // namespace fieldpeg::spectrum
