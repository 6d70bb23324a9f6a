#include "tests/planner/questions.h"

#include "tests/support/gear.h"
#include "tests/support/random.h"
#include "tests/support/scenes.h"

#include <algorithm>

namespace fieldpeg::testing {
namespace {

using planner::Allowed;
using planner::Question;
using spectrum::Dbm;
using spectrum::Hertz;

constexpr spectrum::Envelope circuit{0, 80, 50, 3, 40};
constexpr double eye_m = 1.7;

Hertz megahertz(int f) {
    return Hertz(f * std::int64_t{1'000'000});
}

std::vector<Hertz> some_channels(std::mt19937_64& rng, int count) {
    std::vector<Hertz> channels;
    while (static_cast<int>(channels.size()) < count) {
        const Hertz channel = megahertz(5700 + 5 * whole(rng, 0, 24));
        if (std::ranges::find(channels, channel) == channels.end()) channels.push_back(channel);
    }
    return channels;
}

}  // namespace

std::vector<Hertz> distinct_channels() {
    std::vector<Hertz> channels;
    for (const int f :
         {5645, 5658, 5665, 5685, 5695, 5705, 5725, 5732, 5733, 5740, 5745, 5752, 5760,
          5765, 5769, 5771, 5780, 5785, 5790, 5800, 5805, 5806, 5809, 5820, 5825, 5828,
          5840, 5843, 5845, 5847, 5860, 5865, 5866, 5880, 5885, 5905, 5917, 5925, 5945})
        channels.push_back(megahertz(f));
    return channels;
}

Question random_question(std::mt19937_64& rng, int most) {
    Question question;
    question.scene = random_scene(rng, Channels::one_band, most);
    if (chance(rng, 25)) question.accept = planner::Accept::tight;
    for (auto& transmitter : question.scene.transmitters) {
        // What is planned for sends without a break on one channel.
        transmitter.duty = 1;
        transmitter.hops.reset();
        transmitter.spares.reset();
        const bool pinned = chance(rng, 20);
        Allowed allowed{some_channels(rng, pinned ? 1 : whole(rng, 2, 4)), {transmitter.power}};
        if (!pinned && chance(rng, 25)) allowed.powers.push_back(Dbm(between(rng, 0, 30)));
        question.allowed.push_back(std::move(allowed));
    }
    return question;
}

Question crowd(const Crowd& crowd, std::uint64_t seed) {
    std::mt19937_64 rng(seed);
    Question question;
    auto& scene = question.scene;
    scene.emissions.push_back(emission("fm-video"));
    scene.profiles.push_back(receiver("fm-video-5g8"));
    const auto antenna = upright(crowd.antenna, spectrum::Polarisation::rhcp);
    const auto omni = upright("circular-omni", spectrum::Polarisation::rhcp);
    for (std::size_t i = 0; i < crowd.pilots; ++i) {
        const Dbm power(crowd.powers_dbm[i % crowd.powers_dbm.size()]);
        scene.transmitters.push_back({0, 5800_MHz, power, omni, 0.5_dB, circuit});
        scene.receivers.push_back(
            {0, i, antenna, 0.5_dB, {crowd.spread_m * static_cast<double>(i), 0, eye_m}, i});
        auto channels = distinct_channels();
        if (crowd.channels_each > 0) {
            std::ranges::shuffle(channels, rng);
            channels.resize(crowd.channels_each);
        }
        question.allowed.push_back({channels, {power}});
    }
    return question;
}

Question rows_day(std::size_t pilots, std::uint64_t seed) {
    constexpr int least = 3, most = 8;
    std::mt19937_64 rng(seed);
    auto question = crowd({.pilots = pilots, .spread_m = 3});
    std::vector<Hertz> rows;
    for (int i = 0; i < 8; ++i) {
        rows.push_back(megahertz(5658 + 37 * i));
        rows.push_back(megahertz(5740 + 20 * i));
    }
    for (auto& allowed : question.allowed) {
        std::ranges::shuffle(rows, rng);
        allowed.channels.assign(rows.begin(), rows.begin() + whole(rng, least, most));
    }
    return question;
}

Question big_day(std::size_t pilots, std::uint64_t seed) {
    std::mt19937_64 rng(seed);
    Question question;
    auto& scene = question.scene;
    scene.emissions.push_back(emission("fm-video"));
    for (const auto* name : {"fm-video-1g3", "fm-video-2g4", "fm-video-5g8"})
        scene.profiles.push_back(receiver(name));
    const auto omni = upright("circular-omni", spectrum::Polarisation::rhcp);
    const std::vector<std::vector<Hertz>> rows = {
        {1240_MHz, 1258_MHz, 1280_MHz, 1300_MHz, 1320_MHz, 1340_MHz, 1360_MHz},
        {2370_MHz, 2390_MHz, 2410_MHz, 2430_MHz, 2450_MHz, 2470_MHz, 2490_MHz, 2510_MHz},
        distinct_channels()};
    for (std::size_t i = 0; i < pilots; ++i) {
        const std::size_t band = i % 10 == 0 ? 0 : i % 10 == 1 ? 1 : 2;
        const double x = between(rng, -2000, 2000), y = between(rng, -2000, 2000);
        const spectrum::Envelope area{x, y + 80, between(rng, 20, 60), between(rng, 3, 20), 60};
        scene.transmitters.push_back({0, rows[band][0], 14_dBm, omni, 0.5_dB, area});
        scene.receivers.push_back({band, i, omni, 0.5_dB, {x, y, eye_m}, i});
        question.allowed.push_back({rows[band], {14_dBm}});
    }
    return question;
}

}  // namespace fieldpeg::testing
