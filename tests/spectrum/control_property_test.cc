#include "server/spectrum/control.h"

#include "server/spectrum/relay_window.h"
#include "tests/support/gear.h"
#include "tests/support/random.h"
#include "tests/support/scenes.h"

#include <gtest/gtest.h>

#include <cstddef>
#include <optional>
#include <random>
#include <utility>
#include <vector>

/// What must be so of every control of an aircraft (docs/model.md, section 14), whatever is on the
/// air.
namespace fieldpeg::spectrum {
namespace {

using testing::between;
using testing::chance;
using testing::for_all;
using testing::one_of;
using testing::random_envelope;
using testing::random_place;
using testing::upright;
using testing::whole;

enum Emissions : std::size_t { hopping, fm, ofdm };

std::size_t someone(std::mt19937_64& rng, std::size_t size) {
    return static_cast<std::size_t>(whole(rng, 0, static_cast<int>(size) - 1));
}

Antenna dipole() {
    return upright("dipole", Polarisation::vertical);
}

/// Where its fundamental, its second or its third harmonic meets 2.4 GHz, beside that, or nowhere.
Hertz random_frequency(std::mt19937_64& rng) {
    const Hertz off = Hertz(1'000'000 * whole(rng, 0, 80));
    return one_of(rng, {2400_MHz, 2400_MHz, 1190_MHz, 780_MHz, 2340_MHz, 5700_MHz}) + off;
}

Transmitter random_disturber(std::mt19937_64& rng) {
    Transmitter made{one_of<std::size_t>(rng, {fm, ofdm}),
                     random_frequency(rng),
                     Dbm(between(rng, -10, 30)),
                     testing::random_antenna(rng),
                     Decibel(between(rng, 0, 2)),
                     chance(rng, 50) ? Station(random_envelope(rng)) : Station(random_place(rng))};
    if (chance(rng, 20)) made.duty = one_of(rng, {0.01, 0.05, 0.3});
    if (chance(rng, 20)) made.harmonic_filter = Decibel(between(rng, 0, 40));
    return made;
}

/// The middle of a usual band, 100 mW [model.md, section 6: assumed].
Transmitter handset(const Station& at) {
    Transmitter made{hopping, 2441_MHz, 20_dBm, dipole(), 0.5_dB, at, 0.5};
    made.hops = HopBand{2402_MHz, 2480_MHz};
    return made;
}

Control steered_by(std::size_t handset, const Envelope& area) {
    return {handset, 0, dipole(), 0.5_dB, area, {2402_MHz, 2480_MHz}, 1_MHz, {}};
}

Scene with_gear() {
    Scene scene;
    for (const auto* name : {"hopping-2g4", "fm-video", "ofdm-20"})
        scene.emissions.push_back(testing::emission(name));
    scene.profiles.push_back(testing::receiver("control-2g4"));
    return scene;
}

/// One aircraft or two, each steered from the ground, with video aboard or not, and up to `most`
/// others.
Scene random_scene(std::mt19937_64& rng, int most = 4) {
    Scene scene = with_gear();
    const int aircraft = whole(rng, 1, 2);
    for (int i = 0; i < aircraft; ++i) {
        const auto area = random_envelope(rng);
        scene.transmitters.push_back(handset(random_place(rng)));
        scene.transmitters.back().power = Dbm(between(rng, 10, 27));
        auto& control =
            scene.controls.emplace_back(steered_by(scene.transmitters.size() - 1, area));
        control.step = one_of(rng, {500_kHz, 1_MHz, 1_MHz, 3_MHz, 10_MHz, 78_MHz});
        if (chance(rng, 50)) continue;
        control.aboard.push_back(scene.transmitters.size());
        scene.transmitters.push_back(random_disturber(rng));
        scene.transmitters.back().at = area;
    }
    const int others = whole(rng, 0, most);
    for (int i = 0; i < others; ++i) scene.transmitters.push_back(random_disturber(rng));
    return scene;
}

std::vector<ControlStanding> assess(const Scene& scene) {
    RejectionTables tables(scene, control_grid(scene));
    return assess_controls(scene, ControlLinks(scene), tables);
}

Scene weaker(Scene scene, std::size_t transmitter, Decibel by) {
    scene.transmitters[transmitter].power = scene.transmitters[transmitter].power - by;
    return scene;
}

Scene silent(Scene scene, std::size_t transmitter) {
    scene.transmitters[transmitter].power = switched_off;
    return scene;
}

/// No control has lost fewer channels than before, nor has a better word.
void expect_no_fewer_lost(const Scene& before, const Scene& after) {
    const auto was = assess(before), is = assess(after);
    for (std::size_t c = 0; c < was.size(); ++c) {
        EXPECT_GE(is[c].lost_share, was[c].lost_share) << "control " << c;
        EXPECT_EQ(is[c].lost_alone, was[c].lost_alone) << "control " << c;
        if (was[c].word == ControlWord::at_risk) {
            EXPECT_EQ(is[c].word, ControlWord::at_risk) << "control " << c;
        }
    }
}

/// One that is nobody's handset; none if all are.
std::optional<std::size_t> random_other(std::mt19937_64& rng, const Scene& scene) {
    std::vector<std::size_t> others;
    for (std::size_t t = 0; t < scene.transmitters.size(); ++t)
        if (!scene.transmitters[t].hops) others.push_back(t);
    if (others.empty()) return std::nullopt;
    return others[someone(rng, others.size())];
}

// model.md, section 14: lost alone is too far; else more than a third lost is at risk.
TEST(Controls, AreJudgedByTheShareOfTheirChannelsThatIsLost) {
    int at_risk = 0, ok = 0;
    for_all(300, [&](std::mt19937_64& rng) {
        for (const auto& at : assess(random_scene(rng))) {
            EXPECT_GE(at.lost_share, 0);
            EXPECT_LE(at.lost_share, 1);
            EXPECT_EQ(at.word, at.lost_alone           ? ControlWord::too_far
                               : 3 * at.lost_share > 1 ? ControlWord::at_risk
                                                       : ControlWord::ok);
            EXPECT_EQ(at.loss.has_value(), at.word == ControlWord::at_risk);
            if (at.lost_alone) {
                EXPECT_EQ(at.lost_share, 1);
            }
            at_risk += at.word == ControlWord::at_risk;
            ok += at.word == ControlWord::ok;
        }
    });
    EXPECT_GT(at_risk, 50);  // both kinds are among the random ones
    EXPECT_GT(ok, 50);
}

TEST(Controls, LoseNoFewerChannelsToOneWhoIsStronger) {
    for_all(200, [](std::mt19937_64& rng) {
        const auto scene = random_scene(rng);
        const auto t = random_other(rng, scene);
        if (t) expect_no_fewer_lost(scene, weaker(scene, *t, Decibel(-between(rng, 0, 20))));
    });
}

TEST(Controls, LoseNoFewerChannelsWithOneMoreOnTheAir) {
    for_all(200, [](std::mt19937_64& rng) {
        const auto scene = random_scene(rng);
        auto joined = scene;
        joined.transmitters.push_back(random_disturber(rng));
        expect_no_fewer_lost(scene, joined);
    });
}

// The handset of one is a blocker of the other's receiver.
TEST(Controls, LoseNoFewerChannelsToTheHandsetOfAnother) {
    for_all(100, [](std::mt19937_64& rng) {
        auto scene = random_scene(rng);
        auto joined = scene;
        joined.transmitters.push_back(handset(random_place(rng)));
        joined.transmitters.back().power = Dbm(between(rng, 10, 40));
        expect_no_fewer_lost(scene, joined);
    });
}

TEST(Controls, LoseNoMoreChannelsToOneWithAFilterForItsHarmonics) {
    for_all(200, [](std::mt19937_64& rng) {
        const auto scene = random_scene(rng);
        const auto t = random_other(rng, scene);
        if (!t) return;
        auto filtered = scene;
        auto& filter = filtered.transmitters[*t].harmonic_filter;
        filter = filter + Decibel(between(rng, 0, 40));
        expect_no_fewer_lost(filtered, scene);
    });
}

TEST(Controls, LoseNoMoreChannelsWithAStrongerHandset) {
    for_all(200, [](std::mt19937_64& rng) {
        auto scene = random_scene(rng);
        scene.controls.resize(1);  // to the other's receiver it is a blocker
        const auto was = assess(scene);
        const auto is =
            assess(weaker(scene, scene.controls[0].handset, Decibel(-between(rng, 0, 20))));
        EXPECT_LE(is[0].lost_share, was[0].lost_share);
        EXPECT_GE(was[0].lost_alone, is[0].lost_alone);
    });
}

// In the steps in which it is said.
TEST(Controls, AreOkOnceTheOneToBlameIsWeakerByWhatCuresThem) {
    int cured = 0;
    for_all(300, [&](std::mt19937_64& rng) {
        const auto scene = random_scene(rng);
        const auto was = assess(scene);
        for (std::size_t c = 0; c < was.size(); ++c) {
            if (!was[c].loss || !was[c].loss->cured_by) continue;
            const auto [to, by, cure] = *was[c].loss;
            EXPECT_EQ(assess(weaker(scene, to, *cure))[c].word, ControlWord::ok);
            EXPECT_EQ(assess(weaker(scene, to, *cure - 1_dB))[c].word, ControlWord::at_risk);
            ++cured;
        }
    });
    EXPECT_GT(cured, 30);
}

// What is said of another's harmonic is how good a filter has to be.
TEST(Controls, AreOkWithAFilterOfWhatCuresThemOfAnothersHarmonic) {
    int harmonics = 0;
    for_all(600, [&](std::mt19937_64& rng) {
        Scene scene = with_gear();
        const Envelope area{0, between(rng, 200, 400), 150, 10, 60};
        scene.transmitters.push_back(handset(random_place(rng)));
        scene.controls.push_back(steered_by(0, area));
        auto& other = scene.transmitters.emplace_back(random_disturber(rng));
        other.frequency = 1205_MHz + Hertz(1'000'000 * whole(rng, 0, 35));
        other.power = Dbm(between(rng, 20, 40));
        other.at = Point{between(rng, 3, 20), area.y_m + area.radius_m, between(rng, 2, 35)};
        const auto was = assess(scene)[0];
        if (!was.loss || !was.loss->cured_by) return;
        ASSERT_EQ(was.loss->by, ControlThief::harmonic);
        auto& filter = other.harmonic_filter;
        filter = filter + *was.loss->cured_by;
        EXPECT_EQ(assess(scene)[0].word, ControlWord::ok);
        ++harmonics;
    });
    EXPECT_GT(harmonics, 10);
}

// Each of two at one place does for itself what the other does.
TEST(Controls, AreNotOkWithoutTheOneToBlameWhereOthersSuffice) {
    int others_suffice = 0;
    for_all(200, [&](std::mt19937_64& rng) {
        auto scene = random_scene(rng);
        const auto once = scene.transmitters;
        for (const auto& t : once)
            if (!t.hops) scene.transmitters.push_back(t);
        const auto was = assess(scene);
        for (std::size_t c = 0; c < was.size(); ++c) {
            if (!was[c].loss || was[c].loss->cured_by) continue;
            EXPECT_EQ(assess(silent(scene, was[c].loss->to))[c].word, ControlWord::at_risk);
            ++others_suffice;
        }
    });
    EXPECT_GT(others_suffice, 10);
}

TEST(Controls, LoseFewestWithoutTheOneToBlame) {
    for_all(100, [](std::mt19937_64& rng) {
        const auto scene = random_scene(rng);
        const auto was = assess(scene);
        for (std::size_t c = 0; c < was.size(); ++c) {
            if (!was[c].loss) continue;
            ASSERT_NE(was[c].loss->to, scene.controls[c].handset);
            const double least = assess(silent(scene, was[c].loss->to))[c].lost_share;
            for (std::size_t t = 0; t < scene.transmitters.size(); ++t)
                if (t != scene.controls[c].handset) {
                    EXPECT_GE(assess(silent(scene, t))[c].lost_share, least) << "without " << t;
                }
        }
    });
}

// 100 mW to a dipole: free space takes 20 dBm below -97 dBm, noise of 1.2 MHz and 8 dB and what
// a burst needs, beyond 50 km [P.525-5]. Near the ground it is much less.
TEST(Controls, AreTooFarFarAwayAndOkNearBy) {
    for_all(20, [](std::mt19937_64& rng) {
        const double bearing = between(rng, -1, 1);
        const auto at = [&](double away_m) {
            Scene scene = with_gear();
            scene.transmitters.push_back(handset(Point{0, 0, 1.5}));
            const Envelope area{away_m * bearing, away_m, 50, 10, 60};
            scene.controls.push_back(steered_by(0, area));
            return assess(scene)[0];
        };
        EXPECT_EQ(at(150).word, ControlWord::ok);
        EXPECT_EQ(at(150).lost_share, 0);
        EXPECT_EQ(at(100'000).word, ControlWord::too_far);
        EXPECT_LT(at(100'000).wanted, at(150).wanted);
    });
}

// Dozens of such handsets are on at every field [common practice, no published source].
TEST(Controls, AreNotAtRiskByAHoppingNeighbour) {
    for_all(100, [](std::mt19937_64& rng) {
        Scene scene = with_gear();
        const auto area = random_envelope(rng);
        scene.transmitters.push_back(handset(random_place(rng)));
        scene.controls.push_back(steered_by(0, area));
        const auto own = std::get<Point>(scene.transmitters[0].at);
        scene.transmitters.push_back(
            handset(Point{own.x_m + between(rng, 20, 60), own.y_m, own.z_m}));
        const auto standing = assess(scene)[0];
        EXPECT_EQ(standing.word, ControlWord::ok);
        EXPECT_EQ(standing.lost_share, 0);
    });
}

// What is aboard counts with the isolation of the airframe, wherever that is.
TEST(Controls, LoseAsMuchToWhatIsAboardWhereverThatFlies) {
    for_all(100, [](std::mt19937_64& rng) {
        auto scene = random_scene(rng);
        auto& control = scene.controls[0];
        if (control.aboard.empty()) return;
        const ControlLinks links(scene);
        EXPECT_NEAR(links.unwanted(0, control.aboard[0]), linear(-own_isolation), 1e-12);
        const auto was = assess(scene)[0].lost_share;
        scene.controls.resize(1);
        scene.transmitters[control.aboard[0]].at = random_envelope(rng);
        scene.transmitters[control.aboard[0]].antenna = testing::random_antenna(rng);
        EXPECT_EQ(assess(scene)[0].lost_share, was);
    });
}

void expect_same(const ControlLinks& one, const ControlLinks& other, const Scene& scene) {
    for (std::size_t c = 0; c < scene.controls.size(); ++c) {
        EXPECT_EQ(one.wanted(c), other.wanted(c));
        for (std::size_t t = 0; t < scene.transmitters.size(); ++t)
            if (t != scene.controls[c].handset) {
                EXPECT_EQ(one.unwanted(c, t), other.unwanted(c, t))
                    << "from " << t << " to control " << c;
            }
    }
}

TEST(ControlLinks, AreTheSameUpdatedAndBuiltAnew) {
    for_all(100, [](std::mt19937_64& rng) {
        auto scene = random_scene(rng);
        ControlLinks links(scene);
        for (int move = 0; move < 4; ++move) {
            const auto t = someone(rng, scene.transmitters.size());
            auto& moved = scene.transmitters[t];
            if (chance(rng, 70)) moved.at = random_place(rng);
            if (chance(rng, 50)) moved.antenna = testing::random_antenna(rng);
            if (chance(rng, 50)) moved.loss = Decibel(between(rng, 0, 10));
            if (chance(rng, 50) && !moved.hops) moved.frequency = random_frequency(rng);
            links.update(scene, t);
            expect_same(links, ControlLinks(scene), scene);
        }
    });
}

// Right above the handset no side of the rim is the far one, and any will do.
TEST(ControlLinks, ReachTheRimOfAnAreaRightAboveTheHandset) {
    Scene scene = with_gear();
    const Envelope area{0, 0, 100, 10, 60};
    scene.transmitters.push_back(handset(Point{0, 0, 1.5}));
    scene.controls.push_back(steered_by(0, area));
    const auto above = ControlLinks(scene).wanted(0);
    scene.transmitters[0].at = Point{0.001, 0, 1.5};
    EXPECT_NEAR(ControlLinks(scene).wanted(0).count(), above.count(), 0.01);
}

// All channels of all controls, and everybody's frequency.
TEST(ControlGrid, HoldsEveryFrequencyThatIsLookedAt) {
    for_all(100, [](std::mt19937_64& rng) {
        const auto scene = random_scene(rng);
        const auto grid = control_grid(scene).count();
        ASSERT_GT(grid, 0);
        for (const auto& t : scene.transmitters) EXPECT_EQ(t.frequency.count() % grid, 0);
        for (const auto& c : scene.controls)
            for (auto f = c.hops.low.count() + c.step.count() / 2; f < c.hops.high.count();
                 f += c.step.count())
                EXPECT_EQ(f % grid, 0);
    });
}

}  // namespace
}  // namespace fieldpeg::spectrum
