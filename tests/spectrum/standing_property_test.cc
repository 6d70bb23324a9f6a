#include "server/spectrum/standing.h"

#include "server/spectrum/verdict.h"
#include "tests/support/assessed.h"
#include "tests/support/gear.h"
#include "tests/support/random.h"
#include "tests/support/scenes.h"

#include <gtest/gtest.h>

#include <algorithm>
#include <cmath>
#include <cstddef>
#include <deque>
#include <functional>
#include <numbers>
#include <optional>
#include <random>
#include <utility>
#include <vector>

/// Pictures that come by more than one receiver, hop or way.
namespace fieldpeg::spectrum {
namespace {

using testing::Assessed;
using testing::between;
using testing::chance;
using testing::Channels;
using testing::for_all;
using testing::one_of;
using testing::random_scene;
using testing::random_scene_with_relay;
using testing::whole;

constexpr double resolution_db = 1e-3;

std::size_t someone(std::mt19937_64& rng, std::size_t size) {
    return static_cast<std::size_t>(whole(rng, 0, static_cast<int>(size) - 1));
}

// --- section 8 of docs/model.md, written down once more, slowly

double phi(double x) {
    return std::erfc(-x / std::numbers::sqrt2) / 2;
}

double linear(double db) {
    return std::pow(10, db / 10);
}

/// S(Delta): the share of the flight for which at least one of some receivers has a picture with
/// Delta to spare.
double share_together(const std::vector<const Reception*>& all, Demand demand, Air air,
                      double spare_db) {
    const std::size_t places = all.front()->gain->flight.medians_db().size();
    double sum = 0;
    for (std::size_t g = 0; g < places; ++g) {
        double none = 1;
        for (const auto* r : all) {
            const double lacks = r->floor(air).count() + r->required(demand).count() + spare_db -
                                 (r->sent - r->body).count();
            none *= 1 - phi((r->gain->flight.medians_db()[g] - lacks) /
                            r->gain->flight.fading().count());
        }
        sum += 1 - none;
    }
    return sum / static_cast<double>(places);
}

/// S(Delta) = q, by halving.
double spare_together(const std::vector<const Reception*>& all, const Aim& aim) {
    double low = -300, high = 300;
    for (int i = 0; i < 60; ++i) {
        const double middle = (low + high) / 2;
        (share_together(all, aim.demand, aim.air, middle) > aim.share ? low : high) = middle;
    }
    return low;
}

/// What m receivers with the most room offer, m = 1 .. n: {Delta_m, O_m}.
struct Offer {
    double spare_db, room_db;
};
std::vector<Offer> offers(const Receptions& receptions, const Hop& hop, const Aim& aim) {
    std::vector<const Reception*> all;
    for (const auto v : hop.receivers) all.push_back(&*receptions[v]);
    std::ranges::sort(all, std::greater<>{}, [&](auto* r) { return r->closeness(aim.share); });
    if (!aim.heeds_closeness) return {{spare_together(all, aim), 1e9}};
    std::vector<Offer> list;
    for (std::size_t m = 1; m <= all.size(); ++m) {
        const std::vector<const Reception*> some(all.begin(),
                                                 all.begin() + static_cast<std::ptrdiff_t>(m));
        list.push_back({spare_together(some, aim), some.back()->closeness(aim.share).count()});
    }
    return list;
}

double slow_margin(const Receptions& receptions, const Hop& hop, const Aim& aim) {
    double best = -1e9;
    for (const auto& o : offers(receptions, hop, aim))
        best = std::max(best, std::min(o.spare_db, o.room_db));
    return best;
}

/// Of one hop or two.
double slow_margin(const Receptions& receptions, const Way& way, const Aim& aim) {
    if (way.hops.size() == 1) return slow_margin(receptions, way.hops[0], aim);
    const auto first = [&](std::size_t hop) -> const Reception& {
        return *receptions[way.hops[hop].receivers.front()];
    };
    if (!first(0).hears_analogue || !first(1).hears_analogue)
        return std::min(slow_margin(receptions, way.hops[0], aim),
                        slow_margin(receptions, way.hops[1], aim));
    const double required_1 = first(0).required(aim.demand).count();
    const double required_2 = first(1).required(aim.demand).count();
    double best = -1e9;
    for (const auto& one : offers(receptions, way.hops[0], aim)) {
        for (const auto& two : offers(receptions, way.hops[1], aim)) {
            const double noise =
                linear(-one.spare_db - required_1) + linear(-two.spare_db - required_2);
            best = std::max(
                best, std::min({-10 * std::log10(noise) - required_2, one.room_db, two.room_db}));
        }
    }
    return best;
}

Aim some_aim(std::mt19937_64& rng) {
    return {one_of(rng, {Demand::watchable, Demand::sharp}), one_of(rng, {0.98, 0.80, 0.6}),
            one_of(rng, {Air::usual, Air::closest, Air::alone}), chance(rng, 80)};
}

/// Days on which somebody has more than one receiver, hop or way; digital receivers are often close
/// to what they can bear.
Scene crowded(std::mt19937_64& rng) {
    auto scene =
        chance(rng, 50) ? random_scene_with_relay(rng) : random_scene(rng, Channels::one_band, 5);
    for (auto& profile : scene.profiles)
        if (profile.strongest_wanted < 0_dBm) profile.strongest_wanted = -45_dBm;
    return scene;
}

TEST(Diversity, IsTheBestOverTheChoicesOfReceivers) {
    int several = 0, left_out = 0;
    for_all(120, [&](std::mt19937_64& rng) {
        const Assessed day(crowded(rng));
        const auto aim = some_aim(rng);
        for (const auto& hop : hops(day.scene)) {
            const double expected = slow_margin(day.receptions, hop, aim);
            EXPECT_NEAR(margin(day.receptions, hop, aim).count(), expected, resolution_db);
            several += hop.receivers.size() > 1 ? 1 : 0;
            const auto all = offers(day.receptions, hop, aim);
            left_out += expected > std::min(all.back().spare_db, all.back().room_db) + 0.01 ? 1 : 0;
        }
    });
    EXPECT_GT(several, 30);
    EXPECT_GT(left_out, 3);
}

TEST(Chain, AddsTheNoiseOfAnalogueHopsAndIsAsGoodAsTheWeakestOtherwise) {
    int chains = 0, analogue = 0;
    for_all(150, [&](std::mt19937_64& rng) {
        const Assessed day(crowded(rng));
        const auto aim = some_aim(rng);
        for (const auto& viewer : viewers(day.scene)) {
            double best = -1e9;
            for (const auto& way : viewer.ways) {
                const double expected = slow_margin(day.receptions, way, aim);
                EXPECT_NEAR(margin(day.receptions, way, aim).count(), expected, resolution_db);
                best = std::max(best, expected);
                if (way.hops.size() == 1) continue;
                ++chains;
                const bool both = day.receptions[way.hops[0].receivers[0]]->hears_analogue &&
                                  day.receptions[way.hops[1].receivers[0]]->hears_analogue;
                analogue += both ? 1 : 0;
            }
            EXPECT_NEAR(margin(day.receptions, viewer, aim).count(), best, resolution_db);
        }
    });
    EXPECT_GT(analogue, 20);
    EXPECT_GT(chains, analogue + 10);
}

// --- by hand

/// Receptions with given levels above the noise, nothing else on the air.
class Levels {
public:
    Levels() = default;
    Levels(const Levels&) = delete;
    Levels& operator=(const Levels&) = delete;

    /// Analogue goggles whose M98 is so much; returns the receiver.
    std::size_t margin_98(double db, double fading_db = 3.5) {
        const FlightGain flight({0}, Decibel(fading_db));
        return add("fm-video-5g8", flight, noise.count() + 10 + db - flight.exceeded(0.98).count());
    }
    std::size_t add(const char* profile, const FlightGain& flight, double sent_dbm) {
        profiles_.push_back(testing::receiver(profile));
        gains_.emplace_back(flight);
        const bool analogue = profiles_.back().strongest_wanted >= 0_dBm;
        all.push_back(
            Reception{&profiles_.back(), &gains_.back(), Dbm(sent_dbm), 0_dB, noise, analogue, {}});
        return all.size() - 1;
    }

    static constexpr Dbm noise = -94_dBm;
    Receptions all;

private:
    std::deque<ReceiverProfile> profiles_;
    std::deque<WantedGain> gains_;
};

Way chain(std::size_t first, std::size_t second) {
    return {{{0, {first}}, {1, {second}}}};
}

// Two hops with 1.6 and 0.8 dB to spare over 10 dB: noise of -11.6 and -10.8 dB adds to -8.17 dB.
TEST(Chain, OfTwoAnalogueHopsIsBelowBoth) {
    Levels levels;
    const auto way = chain(levels.margin_98(1.6), levels.margin_98(0.8));
    const double m = margin(levels.all, way, {}).count();
    EXPECT_LT(m, 0.8);
    EXPECT_NEAR(m, -1.83, 0.005);
    EXPECT_EQ(verdict(standing(levels.all, way)), Verdict::patchy);  // though each would be steady
}

// Two alike lose 3 dB, three would lose 4.8; a hop without noise costs nothing.
TEST(Chain, OfTwoEqualHopsLosesThreeDecibels) {
    Levels levels;
    const auto five = levels.margin_98(5), as_well = levels.margin_98(5),
               fifty = levels.margin_98(60);
    EXPECT_NEAR(margin(levels.all, chain(five, as_well), {}).count(), 5 - 3.0103, 1e-4);
    EXPECT_NEAR(margin(levels.all, chain(five, fifty), {}).count(), 5, 1e-4);
    EXPECT_NEAR(margin(levels.all, chain(fifty, five), {}).count(), 5, 1e-4);
    EXPECT_NEAR(margin(levels.all, Way{{{0, {five}}, {1, {as_well}}, {2, {five}}}}, {}).count(),
                5 - 4.7712, 1e-4);
}

// A digital hop hands on what it got or nothing.
TEST(Chain, OfADigitalHopIsAsGoodAsTheWeaker) {
    Levels levels;
    const FlightGain steady({0}, 3.5_dB);
    const auto digital = levels.add("ofdm-20-5g8", steady, -70);
    const double own = margin(*levels.all[digital], Aim{}).count();
    const auto weaker = levels.margin_98(own - 2), better = levels.margin_98(own + 2);
    EXPECT_NEAR(margin(levels.all, chain(weaker, digital), {}).count(), own - 2, 1e-4);
    EXPECT_NEAR(margin(levels.all, chain(better, digital), {}).count(), own, 1e-4);
}

// Fading is independent: two alike miss q^2 where one misses q. For 98 % together each needs the
// picture 1 - sqrt(0.02) of the time, 1.0740 sigma from the middle instead of 2.0537.
TEST(Diversity, OfTwoAlikeMissesTheSquareOfWhatOneMisses) {
    Levels levels;
    const Hop both{0, {levels.margin_98(0), levels.margin_98(0)}};
    EXPECT_NEAR(margin(levels.all, both, {}).count(), (2.0537 - 1.0740) * 3.5, 0.001);
    const Hop one{0, {both.receivers[0]}};
    EXPECT_NEAR(share(levels.all, one, Demand::watchable, Air::usual), 0.98, 1e-4);
    EXPECT_NEAR(share(levels.all, both, Demand::watchable, Air::usual), 1 - 0.02 * 0.02, 1e-4);
}

// At each place both are there at once; what one looks past the other sees.
TEST(Diversity, CountsPlaceByPlace) {
    Levels levels;
    const double sent = Levels::noise.count() + 10 + 30;
    const Hop both{0,
                   {levels.add("fm-video-5g8", {{0, -60}, 3.5_dB}, sent),
                    levels.add("fm-video-5g8", {{-60, 0}, 3.5_dB}, sent)}};
    EXPECT_NEAR(share(*levels.all[0], Demand::watchable, Air::usual), 0.5, 1e-4);
    EXPECT_NEAR(share(levels.all, both, Demand::watchable, Air::usual), 1, 1e-4);
    const Hop alike{0,
                    {levels.add("fm-video-5g8", {{0, -60}, 3.5_dB}, sent),
                     levels.add("fm-video-5g8", {{0, -60}, 3.5_dB}, sent)}};
    EXPECT_NEAR(share(levels.all, alike, Demand::watchable, Air::usual), 0.5, 1e-4);
}

// A flight flown: everybody at one place, each receiver fading by itself. For the share of it that
// was asked for, one of them has the margin.
TEST(Diversity, HoldsForItsShareOfAFlightThatIsFlown) {
    constexpr int times = 20'000;
    constexpr double luck = 0.016;
    for_all(30, [](std::mt19937_64& rng) {
        const Assessed day(random_scene(rng, Channels::one_band, 4));
        for (const auto& hop : hops(day.scene)) {
            if (hop.receivers.size() < 2) continue;
            const auto air = one_of(rng, {Air::usual, Air::closest, Air::alone});
            const double q = one_of(rng, {0.98, 0.80, 0.5});
            const Decibel m = margin(day.receptions, hop, {Demand::watchable, q, air, false});
            const auto& flight = day.receptions[hop.receivers[0]]->gain->flight;
            std::normal_distribution<double> fading(0, flight.fading().count());
            int held = 0;
            for (int i = 0; i < times; ++i) {
                const auto place = someone(rng, flight.medians_db().size());
                held += std::ranges::any_of(hop.receivers, [&](std::size_t v) {
                    const auto& r = *day.receptions[v];
                    const Decibel gain(r.gain->flight.medians_db()[place] + fading(rng));
                    return r.sent + gain - r.body - r.floor(air) >= r.profile->watchable + m;
                });
            }
            EXPECT_NEAR(static_cast<double>(held) / times, q, luck);
        }
    });
}

// Of two receivers one is beside the transmitter and takes no more: the other carries the picture.
TEST(Diversity, LeavesAnOverloadedReceiverForTheOther) {
    Levels levels;
    const FlightGain steady({0}, 3.5_dB);
    const auto overloaded = levels.add("ofdm-20-5g8", steady, -10);  // 10 dB more than it bears
    const auto fine = levels.add("ofdm-20-5g8", steady, -50);
    const Aim aim;
    EXPECT_LT(margin(*levels.all[overloaded], aim), -10_dB);
    const auto alone = margin(*levels.all[fine], aim);
    EXPECT_GT(alone, 20_dB);
    EXPECT_NEAR(margin(levels.all, Hop{0, {overloaded, fine}}, aim).count(), alone.count(), 1e-6);
    EXPECT_EQ(verdict(standing(levels.all, Hop{0, {overloaded, fine}})), Verdict::steady);
    EXPECT_EQ(verdict(standing(levels.all, Hop{0, {overloaded}})), Verdict::too_close);
    EXPECT_NEAR(share(levels.all, Hop{0, {overloaded, fine}}, Demand::watchable, Air::usual), 1,
                1e-4);
}

// One who has two ways sees by the better, in each respect.
TEST(Ways, AreAsGoodAsTheBest) {
    for_all(60, [](std::mt19937_64& rng) {
        const Assessed day(crowded(rng));
        const auto aim = some_aim(rng);
        for (const auto& viewer : viewers(day.scene)) {
            const auto shown = margin(day.receptions, viewer, aim);
            const double seen = share(day.receptions, viewer, aim.demand, aim.air);
            bool is_one = false, is_share_of_one = false;
            for (const auto& way : viewer.ways) {
                EXPECT_GE(shown, margin(day.receptions, way, aim));
                EXPECT_GE(seen, share(day.receptions, way, aim.demand, aim.air));
                is_one |= shown == margin(day.receptions, way, aim);
                is_share_of_one |= seen == share(day.receptions, way, aim.demand, aim.air);
            }
            EXPECT_TRUE(is_one && is_share_of_one);
        }
    });
}

/// A second receiver never takes anything from the first, whatever it is.
TEST(Diversity, IsNeverWorseThanAnyOfItsReceivers) {
    for_all(60, [](std::mt19937_64& rng) {
        const Assessed day(crowded(rng));
        const auto aim = some_aim(rng);
        for (const auto& hop : hops(day.scene)) {
            for (const auto v : hop.receivers) {
                EXPECT_GE(margin(day.receptions, hop, aim).count(),
                          margin(*day.receptions[v], aim).count() - 1e-5);
                EXPECT_GE(share(day.receptions, hop, aim.demand, aim.air),
                          share(*day.receptions[v], aim.demand, aim.air) - 1e-9);
            }
        }
    });
}

/// The margin for just the share that is had is nothing: M(share) = 0.
template <class Of>
int expect_zero_at_share(const Of& with, double share, Demand demand, Air air) {
    const Aim least{demand, 1e-4, air}, most{demand, 1 - 1e-4, air};
    if (share < 0.002 || share > 0.998) return 0;
    EXPECT_GE(with(least), Decibel(0));
    EXPECT_LE(with(most), Decibel(0));
    EXPECT_GE(with(Aim{demand, share - 1e-4, air}), Decibel(0)) << share;
    EXPECT_LE(with(Aim{demand, share + 1e-4, air}), Decibel(0)) << share;
    return 1;
}

TEST(Share, IsWhereTheMarginIsNothing) {
    int of_one = 0, of_hops = 0, of_chains = 0, of_viewers = 0;
    for_all(150, [&](std::mt19937_64& rng) {
        auto scene = crowded(rng);
        for (auto& t : scene.transmitters)  // often in the middle between all and nothing
            if (chance(rng, 60)) t.power = Dbm(between(rng, -30, 10));
        const Assessed day(std::move(scene));
        const auto& all = day.receptions;
        for (const auto demand : {Demand::watchable, Demand::sharp}) {
            const auto air = one_of(rng, {Air::usual, Air::closest, Air::alone});
            for (const auto& r : all)
                if (r)
                    of_one += expect_zero_at_share([&](const Aim& aim) { return margin(*r, aim); },
                                                   share(*r, demand, air), demand, air);
            for (const auto& hop : hops(day.scene))
                of_hops +=
                    expect_zero_at_share([&](const Aim& aim) { return margin(all, hop, aim); },
                                         share(all, hop, demand, air), demand, air);
            for (const auto& viewer : viewers(day.scene)) {
                for (const auto& way : viewer.ways)
                    if (way.hops.size() > 1)
                        of_chains += expect_zero_at_share(
                            [&](const Aim& aim) { return margin(all, way, aim); },
                            share(all, way, demand, air), demand, air);
                of_viewers +=
                    expect_zero_at_share([&](const Aim& aim) { return margin(all, viewer, aim); },
                                         share(all, viewer, demand, air), demand, air);
            }
        }
    });
    for (const int count : {of_one, of_hops, of_chains, of_viewers}) EXPECT_GT(count, 8);
}

// One receiver gets too much half of the time, the other enough for 0.3 of it only: half of the
// flight is to be had with both, of which the first is not to be left out.
TEST(Share, OfDiversityCountsTheRoomOfThoseThatAreNeeded) {
    Levels levels;
    const FlightGain steady({0}, 3.5_dB);
    const auto near = levels.add("ofdm-20-5g8", steady, -20);  // takes -20 dBm
    const double needed_dbm = Levels::noise.count() + 10;
    const auto far = levels.add("ofdm-20-5g8", steady, needed_dbm - 0.5244 * 3.5);
    const auto of = [&](std::vector<std::size_t> receivers) {
        return share(levels.all, Hop{0, std::move(receivers)}, Demand::watchable, Air::usual);
    };
    EXPECT_NEAR(of({near}), 0.5, 1e-4);
    EXPECT_NEAR(of({far}), 0.3, 1e-4);
    EXPECT_NEAR(of({near, far}), 0.5, 1e-4);
}

// Every number of a standing is the margin for what it is called.
TEST(Standing, HoldsTheMarginsOfItsNames) {
    for_all(40, [](std::mt19937_64& rng) {
        const Assessed day(crowded(rng));
        for (const auto& viewer : viewers(day.scene)) {
            const auto with = [&](Demand demand, double share, Air air, bool heeds_closeness) {
                return margin(day.receptions, viewer, {demand, share, air, heeds_closeness});
            };
            const auto s = standing(day.receptions, viewer);
            EXPECT_EQ(s.good, with(Demand::watchable, 0.98, Air::usual, true));
            EXPECT_EQ(s.usable, with(Demand::watchable, 0.80, Air::usual, true));
            EXPECT_EQ(s.closest, with(Demand::watchable, 0.80, Air::closest, true));
            EXPECT_EQ(s.sharp, with(Demand::sharp, 0.80, Air::usual, true));
            EXPECT_EQ(s.alone_good, with(Demand::watchable, 0.98, Air::alone, true));
            EXPECT_EQ(s.alone_usable, with(Demand::watchable, 0.80, Air::alone, true));
            EXPECT_EQ(s.reach_good, with(Demand::watchable, 0.98, Air::alone, false));
            EXPECT_EQ(s.reach_usable, with(Demand::watchable, 0.80, Air::alone, false));
            EXPECT_EQ(s.worst(), std::min(s.good, s.closest));
            EXPECT_EQ(s.cost(), s.alone_good - s.good);
        }
    });
}

// --- more disturbance never gives a better word

/// Compares everybody whose picture does not come by `raised`.
int expect_no_better_word(const Assessed& before, const Assessed& after,
                          std::optional<std::size_t> raised) {
    const auto was = viewers(before.scene), is = viewers(after.scene);
    EXPECT_EQ(was.size(), is.size());
    int worse = 0;
    for (std::size_t i = 0; i < was.size(); ++i) {
        const bool sees_it = std::ranges::any_of(was[i].ways, [&](const Way& way) {
            return std::ranges::any_of(way.hops,
                                       [&](const Hop& hop) { return hop.transmitter == raised; });
        });
        if (sees_it) continue;
        const auto old_word = verdict(standing(before.receptions, was[i]));
        const auto new_word = verdict(standing(after.receptions, is[i]));
        EXPECT_LE(old_word, new_word) << "owner " << was[i].owner;
        EXPECT_LE(picture(standing(before.receptions, was[i])),
                  picture(standing(after.receptions, is[i])));
        worse += old_word < new_word ? 1 : 0;
    }
    return worse;
}

TEST(Viewers, NeverHaveABetterWordWithMoreDisturbance) {
    int worse = 0;
    for_all(80, [&](std::mt19937_64& rng) {
        auto scene = crowded(rng);
        const auto t = someone(rng, scene.transmitters.size());
        auto louder = scene;
        for (const double step_db : {3.0, 5.0, 10.0, 10.0}) {
            const Assessed before(louder);
            louder.transmitters[t].power = louder.transmitters[t].power + Decibel(step_db);
            worse += expect_no_better_word(before, Assessed(louder), t);
        }
        auto more = scene;
        more.transmitters.push_back(random_scene(rng, Channels::one_band, 2).transmitters[0]);
        more.transmitters.back().emission = 0;
        worse += expect_no_better_word(Assessed(scene), Assessed(more), std::nullopt);
    });
    EXPECT_GT(worse, 25);
}

}  // namespace
}  // namespace fieldpeg::spectrum
