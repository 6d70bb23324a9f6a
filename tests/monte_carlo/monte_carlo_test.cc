// The radio model against a second way to its numbers: random club fields, played moment by moment
// (docs/model.md, section 12). The long form is monte_carlo.cc.

#include "server/spectrum/flight.h"
#include "server/spectrum/link.h"
#include "server/spectrum/margin.h"
#include "server/spectrum/standing.h"
#include "tests/monte_carlo/drawn.h"
#include "tests/monte_carlo/fields.h"
#include "tests/monte_carlo/judged.h"
#include "tests/monte_carlo/simulation.h"
#include "tests/support/gear.h"
#include "tests/support/random.h"
#include "tests/support/scenes.h"

#include <gtest/gtest.h>

#include <algorithm>
#include <cmath>
#include <cstddef>
#include <cstdint>
#include <initializer_list>
#include <numbers>
#include <string>
#include <utility>
#include <vector>

namespace fieldpeg::testing {
namespace {

using spectrum::Envelope;
using spectrum::Geometry;
using spectrum::Point;
using spectrum::Polarisation;
using spectrum::Scene;
using spectrum::Verdict;

constexpr std::uint64_t seed = 1;
constexpr Moments few{.all_over = 1500, .at_rim = 600};

double mean(const std::vector<double>& list) {
    double sum = 0;
    for (const double x : list) sum += x;
    return sum / static_cast<double>(list.size());
}

double quantile(std::vector<double> list, double share) {
    std::ranges::sort(list);
    return list[static_cast<std::size_t>(share * static_cast<double>(list.size() - 1))];
}

// --- the simulation itself

// The mean of the logarithm of a Rician power is ln(k / (k + 1)) + E1(k), a property of the
// non-central chi-square distribution (from memory): -0.414 dB for 10 dB, -0.638 dB for 8 dB.
TEST(Simulation, FadesAsRiceSays) {
    std::mt19937_64 rng(seed);
    for (const auto& [k_db, log_mean_db] : {std::pair{10.0, -0.414}, {8.0, -0.638}}) {
        std::vector<double> powers, levels;
        for (int i = 0; i < 40'000; ++i) {
            powers.push_back(rician_power(rng, k_db));
            levels.push_back(10 * std::log10(powers.back()));
        }
        EXPECT_NEAR(mean(powers), 1, 0.01);
        EXPECT_NEAR(mean(levels), log_mean_db, 0.06);
    }
}

// Derived apart from this code, to how the values lie in their ranges: docs/model.md, section 4.
TEST(Simulation, PartsTheHandsInTheAirByTenDecibel) {
    std::mt19937_64 rng(seed);
    const auto right = upright("circular-omni", Polarisation::rhcp);
    const auto left = upright("circular-omni", Polarisation::lhcp);
    std::vector<double> shares, losses;
    for (int i = 0; i < 20'000; ++i) {
        const Ending air{&right, {}, {}, true, 0, between(rng, 1, 6)};
        const Ending ground{&left, {}, {}, false, 0, left.pattern.axial_ratio.count()};
        shares.push_back(polarisation_share(rng, air, ground));
        losses.push_back(-10 * std::log10(shares.back()));
    }
    EXPECT_NEAR(quantile(losses, 0.5), 9.6, 0.3);
    EXPECT_NEAR(quantile(losses, 0.1), 7.2, 0.3);
    EXPECT_NEAR(-10 * std::log10(mean(shares)), 9.3, 0.3);
}

// A quarter of a disc lies within half its radius.
TEST(Simulation, FliesAllOverTheAreaButNotTooNear) {
    std::mt19937_64 rng(seed);
    const Envelope area{10, 20, 100, 5, 45, 30};
    int within_half = 0, low = 0;
    for (int i = 0; i < 10'000; ++i) {
        const auto at = somewhere(rng, area, {});
        within_half += std::hypot(at.x_m - 10, at.y_m - 20) < 50;
        low += at.z_m < 15;
    }
    EXPECT_NEAR(within_half / 1e4, 0.25, 0.015);
    EXPECT_NEAR(low / 1e4, 0.25, 0.015);
    spectrum::Receiver stands{0, {}, {}, {}, {0, 0, 1.7}};
    for (int i = 0; i < 1'000; ++i)
        EXPECT_GE(spectrum::Ray(stands.at, somewhere(rng, area, {&stands, 1})).slant_m(), 30);
}

// --- the model against it

double normal_share(double x) {
    return std::erfc(-x / std::numbers::sqrt2) / 2;
}

/// What is left of a share of a flight if all levels are weaker: most where all places are alike,
/// as they are taken here.
double share_if_weaker(double share, double by_db) {
    double low = -8, high = 8;
    for (int i = 0; i < 40; ++i) {
        const double middle = (low + high) / 2;
        (normal_share(middle) < share ? low : high) = middle;
    }
    return normal_share(low - by_db / spectrum::fading_flying.count());
}

/// The simulated fading is weaker on average than the model's: 0.4 dB Rician, 0.3 dB for axial
/// ratios worse than the antenna's own. Receivers in diversity have half their shadowing in common,
/// which the model leaves out.
double weaker_db(const Judged& judged) {
    for (const auto& way : judged.who.ways)
        for (const auto& hop : way.hops)
            if (hop.receivers.size() > 1) return 2;
    return 0.7;
}

/// What chance may do to a share in so few moments.
double by_chance(double played) {
    return 4 * std::sqrt(played * (1 - played) / few.all_over) + 6.0 / few.all_over;
}

void expect_no_better_than_played(const Judged& judged) {
    const double played = 1 - judged.flown.lost;
    EXPECT_LE(share_if_weaker(judged.share, weaker_db(judged)), played + by_chance(played))
        << "said to be " << judged.share << ", played " << played;
}

Scene with_only(const Scene& field, std::size_t receiver) {
    Scene scene{field.emissions, field.profiles, {}, {field.receivers[receiver]}};
    auto& only = scene.receivers.front();
    scene.transmitters.push_back(field.transmitters[*only.hears]);
    only.hears = 0;
    only.feeds.reset();
    return scene;
}

/// Calls visit(field, rng) for so many random fields of each kind.
template <class Visit>
void for_some_fields(std::initializer_list<FieldKind> kinds, int count, Visit visit) {
    for (const auto kind : kinds) {
        for (int i = 0; i < count; ++i) {
            SCOPED_TRACE("kind " + std::to_string(static_cast<int>(kind)) + ", field " +
                         std::to_string(i));
            auto rng = generator(seed, kind, i);
            const auto field = random_field(rng, kind);
            visit(field, rng);
        }
    }
}

double share_above_usual(const Scene& field, const spectrum::Receiver& receiver, std::size_t t,
                         std::mt19937_64& rng) {
    constexpr int moments = 600;
    const auto& transmitter = field.transmitters[t];
    const double usual = linear(unwanted_gain(transmitter, receiver, Geometry::usual));
    const auto here = at_one_moment(receiver, {});
    int above = 0;
    for (int i = 0; i < moments; ++i)
        above += link_power(rng, at_one_moment(rng, transmitter, field.receivers), here,
                            transmitter.frequency) > usual;
    return above / static_cast<double>(moments);
}

/// No awful flight is passed, and no good one given up.
void expect_the_word_is_true(const Judged& judged) {
    EXPECT_FALSE(is_awful_passed(judged));
    const bool is_given_up = judged.word == Verdict::too_far || judged.word == Verdict::clash;
    EXPECT_FALSE(is_given_up && is_good(judged.flown));
}

TEST(MonteCarlo, SharesWithNobodyElseOnTheAirAreAsPlayed) {
    std::vector<double> errors;
    for_some_fields({FieldKind::front, FieldKind::inside}, 12,
                    [&](const Scene& field, std::mt19937_64& rng) {
                        for (std::size_t v = 0; v < field.receivers.size(); ++v) {
                            SCOPED_TRACE("receiver " + std::to_string(v));
                            const auto judged = judge(with_only(field, v), rng, few).front();
                            expect_no_better_than_played(judged);
                            const double played = 1 - judged.flown.lost;
                            EXPECT_GE(judged.share, played - by_chance(played));
                            errors.push_back(judged.share - played);
                        }
                    });
    ASSERT_GT(errors.size(), 50u);
    EXPECT_NEAR(mean(errors), 0, 0.01);
}

// docs/model.md, section 5: the usual level is exceeded 15 % of the time.
TEST(MonteCarlo, DisturbersExceedTheirUsualLevelFifteenPercentOfTheTime) {
    std::vector<double> shares;
    for_some_fields({FieldKind::front, FieldKind::inside}, 6,
                    [&](const Scene& field, std::mt19937_64& rng) {
                        const auto& receiver = field.receivers.front();
                        if (receiver.antenna.turns) return;  // looks at somebody else
                        for (std::size_t t = 1; t < field.transmitters.size(); ++t)
                            shares.push_back(share_above_usual(field, receiver, t, rng));
                    });
    ASSERT_GT(shares.size(), 20u);
    for (const double share : shares) EXPECT_NEAR(share, 0.15, 0.10);
    EXPECT_NEAR(mean(shares), 0.15, 0.03);
}

/// So many of a few may be wrong where a share of all is; more are in one of a hundred such tests.
double most_by_chance(std::size_t count, double share) {
    const double expected = share * static_cast<double>(count);
    return std::ceil(expected + 2.33 * std::sqrt(expected));
}

// At most 1 and 1.7 % of all are to be passed and refused wrongly. Where a head turns its antenna
// the model counts every disturber as if the head looked at it: left out here.
TEST(MonteCarlo, WordsAndSharesOfCrowdedFieldsHold) {
    std::vector<double> errors;
    std::vector<Judged> all;
    for_some_fields({FieldKind::front, FieldKind::inside, FieldKind::relays}, 6,
                    [&](const Scene& field, std::mt19937_64& rng) {
                        for (auto& judged : judge(field, rng, few)) {
                            if (judged.sort == Sort::turning) continue;
                            expect_no_better_than_played(judged);
                            expect_the_word_is_true(judged);
                            const double error = judged.share - (1 - judged.flown.lost);
                            if (judged.flown.lost < 0.3) errors.push_back(std::abs(error));
                            all.push_back(std::move(judged));
                        }
                    });
    ASSERT_GT(all.size(), 90u);
    EXPECT_LE(std::ranges::count_if(all, is_wrongly_passed), most_by_chance(all.size(), 0.01));
    EXPECT_LE(std::ranges::count_if(all, is_wrongly_refused), most_by_chance(all.size(), 0.017));
    EXPECT_LE(mean(errors), 0.03);
}

// --- what is guessed, drawn

// A verdict that is said to hold does, whatever the guesses really are: of a hundred at most one is
// good that was not to be, or the other way round.
TEST(MonteCarlo, OutlooksThatHoldHoldWithGearThatIsDrawn) {
    std::vector<Drawn> held;
    std::size_t open = 0, open_changed = 0;
    for_some_fields({FieldKind::front, FieldKind::inside, FieldKind::relays}, 25,
                    [&](const Scene& field, std::mt19937_64& rng) {
                        for (const auto& one : draw(rng, field, 5)) {
                            if (holds(one)) {
                                held.push_back(one);
                                continue;
                            }
                            ++open;
                            open_changed += changes_side(one);
                        }
                    });
    ASSERT_GT(held.size(), 300u);
    ASSERT_GT(open, 100u);
    EXPECT_LE(std::ranges::count_if(held, changes_side), most_by_chance(held.size(), 0.01));
    EXPECT_GT(open_changed, open / 50);  // and it is worth saying of the others that they may not
}

// --- what random fields seldom bring

/// Sets the power of what a receiver hears so that it alone is good with so much to spare.
void set_margin(Scene& scene, std::size_t receiver, double spare_db) {
    const auto alone = with_only(scene, receiver);
    spectrum::RejectionTables tables(alone);
    const spectrum::LinkTable links(alone);
    const auto receptions = assess(alone, links, tables);
    auto& transmitter = scene.transmitters[*scene.receivers[receiver].hears];
    transmitter.power =
        transmitter.power + spectrum::Decibel(spare_db) - standing(*receptions[0]).alone_good;
}

/// An aircraft before a receiver, by itself good with so much to spare.
Scene one_pilot(double spare_db, const spectrum::Antenna& antenna) {
    Scene scene{{emission("fm-video")}, {receiver("fm-video-5g8")}, {}, {}};
    const auto omni = upright("circular-omni", Polarisation::rhcp);
    scene.transmitters.push_back({0, 5'658_MHz, 14_dBm, omni, 0_dB, Envelope{0, 160, 100, 10, 50}});
    scene.receivers.push_back({0, 0, antenna, 0_dB, {0, 0, 2}});
    set_margin(scene, 0, spare_db);
    return scene;
}

// Far enough off that nothing of it leaks into the channel: only blocking is left.
TEST(MonteCarlo, ALoudNeighbourTakesNoMoreThanTheModelSays) {
    const auto omni = upright("circular-omni", Polarisation::rhcp);
    double lost_most = 0;
    for (const double median_dbm : {-31.0, -28.0, -25.0}) {
        SCOPED_TRACE(median_dbm);
        auto scene = one_pilot(4, omni);
        scene.transmitters.push_back({0, 6'110_MHz, 0_dBm, omni, 0_dB, Point{6, -3, 2}});
        scene.profiles.front().front_end_high = 6'200_MHz;
        auto& loud = scene.transmitters.back();
        loud.power = spectrum::Dbm(median_dbm) -
                     unwanted_gain(loud, scene.receivers.front(), Geometry::closest);
        std::mt19937_64 rng(seed);
        const auto judged = judge(scene, rng, few).front();
        expect_no_better_than_played(judged);
        lost_most = std::max(lost_most, judged.flown.lost);
    }
    EXPECT_GT(lost_most, 0.05);  // by itself it loses next to nothing
}

// Three aircraft of 600 mW near a gain antenna: 2a-b and a+b-c fall on the channel.
TEST(MonteCarlo, LoudAircraftNearbyMakeNoMoreProductsThanTheModelSays) {
    const auto omni = upright("circular-omni", Polarisation::rhcp);
    double lost_most = 0;
    for (const double spare_db : {8.0, 12.0, 16.0}) {
        SCOPED_TRACE(spare_db);
        auto scene = one_pilot(spare_db, upright("circular-patch", Polarisation::rhcp));
        for (const auto channel : {5'732_MHz, 5'806_MHz, 5'880_MHz})
            scene.transmitters.push_back(
                {0, channel, 27.8_dBm, omni, 0_dB, Envelope{0, 50, 25, 3, 20, 25}});
        std::mt19937_64 rng(seed);
        const auto judged = judge(scene, rng, few).front();
        expect_no_better_than_played(judged);
        lost_most = std::max(lost_most, judged.flown.lost);
    }
    EXPECT_GT(lost_most, 0.05);  // by itself it loses next to nothing
}

// 600 mW from two masts a foot apart, so far off that nothing leaks into the channel: one makes a
// product there with what it gets from the other. The receiver is too linear to make it.
TEST(MonteCarlo, TransmittersSideBySideMakeNoMoreProductsThanTheModelSays) {
    const auto omni = upright("circular-omni", Polarisation::rhcp);
    double lost_most = 0;
    for (const double spare_db : {9.0, 12.0, 15.0}) {
        SCOPED_TRACE(spare_db);
        auto scene = one_pilot(spare_db, omni);
        scene.profiles.front().iip3 = 40_dBm;
        scene.profiles.front().p1db = 30_dBm;
        scene.profiles.front().front_end_high = 7'000_MHz;
        scene.transmitters.push_back({0, 6'110_MHz, 27.8_dBm, omni, 0_dB, Point{5, -2, 2}});
        scene.transmitters.push_back({0, 6'562_MHz, 27.8_dBm, omni, 0_dB, Point{5.3, -2, 2}});
        std::mt19937_64 rng(seed);
        const auto judged = judge(scene, rng, few).front();
        expect_no_better_than_played(judged);
        lost_most = std::max(lost_most, judged.flown.lost);
    }
    EXPECT_GT(lost_most, 0.05);  // by itself it loses next to nothing
}

// Both hops just good: their noises add, and the picture is not.
TEST(MonteCarlo, TwoHopsThatAreJustGoodMakeAChainThatIsNot) {
    const auto omni = upright("circular-omni", Polarisation::rhcp);
    for (const double spare_db : {0.0, 1.0, 2.0, 3.5}) {
        SCOPED_TRACE(spare_db);
        auto scene = one_pilot(spare_db, omni);
        scene.receivers.front().feeds = 1;
        scene.transmitters.push_back({0, 5'843_MHz, 14_dBm, omni, 0_dB, Point{60, 10, 3}});
        scene.receivers.push_back({0, 1, omni, 0_dB, {10, -20, 1.7}});
        set_margin(scene, 1, spare_db);
        std::mt19937_64 rng(seed);
        const auto chain = judge(scene, rng, few).back();
        ASSERT_EQ(chain.sort, Sort::chain);
        expect_no_better_than_played(chain);
        expect_the_word_is_true(chain);
        EXPECT_GE(chain.share, 1 - chain.flown.lost - 0.10);
    }
}

// Two receivers that are not good each, but nearly: together they lose next to nothing, and no less
// than they are said to.
TEST(MonteCarlo, TwoReceiversThatAreJustNotGoodAreGoodTogether) {
    const auto omni = upright("circular-omni", Polarisation::rhcp);
    for (const double short_db : {0.5, 1.5, 3.0, 5.0}) {
        SCOPED_TRACE(short_db);
        auto scene = one_pilot(-short_db, omni);
        scene.receivers.push_back(scene.receivers.front());
        scene.receivers.back().at.x_m += 1;
        std::mt19937_64 rng(seed);
        const auto judged = judge(scene, rng, few);
        ASSERT_EQ(judged.back().sort, Sort::diversity);
        EXPECT_FALSE(is_passed(judged.front().word));
        expect_no_better_than_played(judged.back());
        const double played = 1 - judged.back().flown.lost;
        EXPECT_GE(judged.back().share, played - by_chance(played));
        EXPECT_FALSE(is_awful_passed(judged.back()));
        if (short_db < 2) {
            EXPECT_TRUE(is_good(judged.back().flown));
            EXPECT_FALSE(is_wrongly_refused(judged.back()));
        }
    }
}

}  // namespace
}  // namespace fieldpeg::testing
