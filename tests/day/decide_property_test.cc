#include "server/day/board.h"
#include "server/day/check.h"
#include "server/day/decide.h"
#include "tests/day/course.h"
#include "tests/support/random.h"

#include <google/protobuf/util/message_differencer.h>
#include <gtest/gtest.h>

#include <set>

/// Whatever is asked, in whatever order, the day keeps its promises.
namespace fieldpeg::day {
namespace {

using google::protobuf::util::MessageDifferencer;
using testing::chance;
using testing::channel;
using testing::Course;
using testing::field_text;
using testing::for_all;
using testing::one_of;
using testing::PilotText;
using testing::RelayText;
using testing::text_of;
using testing::whole;

constexpr int trials = 12;
constexpr int commands_a_trial = 40;

Course random_day(std::mt19937_64& rng) {
    std::string text = field_text();
    const char* const names[] = {"Ann", "Ben", "Cem", "Dee"};
    const char* const places[] = {"line-1", "line-2", "line-3", "chair"};
    for (int i = 0; i < 4; ++i)
        text += text_of(
            PilotText{.name = names[i],
                      .place = places[i],
                      .channel = one_of<std::string>(rng, {"R1", "R4", "R8", "F2"}),
                      .stage = one_of<std::string>(rng, {"", "on_air = true", "on_bench = true"}),
                      .more_video = "power_mw = [25, 200]"});
    text += text_of(RelayText{.name = "tripod relay", .owner = "Dee"});
    return Course(text);
}

v1::Channel random_channel(std::mt19937_64& rng) {
    return one_of(rng, {channel("R1", 5658), channel("R2", 5695), channel("R4", 5769),
                        channel("R8", 5917), channel("F2", 5760), channel("5790", 5790)});
}

v1::Command random_command(std::mt19937_64& rng, const v1::DayState& state) {
    const auto who =
        one_of<std::string>(rng, {"Ann", "Ben", "Cem", "Dee", "tripod relay", "nobody"});
    v1::Command c;
    switch (whole(rng, 0, 10)) {
        case 0:
        case 1:
        case 2: {
            auto& ask = *c.mutable_claim();
            ask.set_transmitter(who);
            if (chance(rng, 85)) *ask.mutable_channel() = random_channel(rng);
            if (chance(rng, 50))
                ask.set_power_dbm(one_of(rng, {13.979400086720376, 23.010299956639813, 10.0}));
            if (chance(rng, 30)) ask.set_group(static_cast<std::uint32_t>(whole(rng, 0, 2)));
            ask.set_yes_anyway(chance(rng, 40));
            ask.set_only_try(chance(rng, 10));
            if (chance(rng, 20)) ask.set_allowed_because("it is agreed");
            break;
        }
        case 3:
            c.mutable_release()->set_transmitter(who);
            break;
        case 4:
        case 5: {
            auto& ask = *c.mutable_on();
            ask.set_transmitter(who);
            ask.set_bench(chance(rng, 30));
            ask.set_already(chance(rng, 30));
            ask.set_yes_anyway(chance(rng, 50));
            if (chance(rng, 30)) *ask.mutable_channel() = random_channel(rng);
            break;
        }
        case 6:
        case 7: {
            auto& ask = *c.mutable_off();
            ask.set_transmitter(who);
            ask.set_down(chance(rng, 20));
            ask.set_silent(chance(rng, 30));
            ask.set_yes_anyway(chance(rng, 50));
            break;
        }
        case 8: {
            auto& ask = *c.mutable_see();
            *ask.mutable_channel() = random_channel(rng);
            ask.set_emission("fm-video");
            break;
        }
        case 9: {
            auto& ask = *c.mutable_assign();
            for (const auto* name : {"Ann", "Ben", "tripod relay"}) {
                if (chance(rng, 40)) continue;
                auto& one = *ask.add_all();
                one.set_transmitter(name);
                *one.mutable_channel() = random_channel(rng);
                one.set_power_dbm(13.979400086720376);
                one.set_group(static_cast<std::uint32_t>(chance(rng, 30) ? 1 : 0));
            }
            ask.set_yes_anyway(chance(rng, 40));
            if (chance(rng, 20)) ask.set_allowed_because("it is agreed");
            break;
        }
        default:
            if (chance(rng, 50) && !state.sheet().sightings().empty())
                c.mutable_unsee()->set_sighting(state.sheet().sightings(0).id());
            else
                c.mutable_remove()->set_name(who);
    }
    return c;
}

Actor random_actor(std::mt19937_64& rng, const v1::DayState& state) {
    if (chance(rng, 50) || state.sheet().pilots().empty()) return {};
    const auto& pilots = state.sheet().pilots();
    return {pilots[whole(rng, 0, pilots.size() - 1)].id(),
            chance(rng, 90) ? v1::Role::pilot : v1::Role::onlooker};
}

void expect_everything_that_radiates_is_assessed(const v1::DayState& state) {
    const auto now = situation(state.sheet(), v1::Basis::on_air);
    const auto is_there = [&](const std::string& name, const v1::Channel& on) {
        const auto t = now.transmitter(name);
        ASSERT_TRUE(t.has_value()) << name;
        EXPECT_EQ(now.transmitters[*t].channel.mhz(), on.mhz());
    };
    const auto expect_all = [&](const auto& holders) {
        for (const auto& one : holders)
            if (one.has_claim() && radiates(one.claim().stage()))
                is_there(one.name(), one.claim().channel());
    };
    expect_all(state.sheet().pilots());
    expect_all(state.sheet().relays());
    for (const auto& s : state.sheet().sightings()) is_there(sighting_name(s.id()), s.channel());
}

/// A claim that was given, or a yes, harms nobody unless the marshal allowed it.
void expect_no_harm_was_done(const v1::DayState& before, const v1::DayState& after,
                             const v1::Command& command, const v1::Reply& reply) {
    const bool given = reply.claim().claimed() && command.claim().allowed_because().empty() &&
                       command.claim().group() == 0;
    const bool yes = reply.switched().answer() == v1::SwitchReply::switch_on &&
                     command.on().allowed_because().empty();
    if (!given && !yes) return;
    const auto name = given ? reply.claim().transmitter() : reply.switched().transmitter();
    const auto held = holder(after.sheet(), name);
    if (given && held->claim->group() != 0) return;
    const auto basis = given ? v1::Basis::held : v1::Basis::on_air;
    // Apart from the decision: everybody's verdict without the transmitter, and with it.
    auto without = before.sheet();
    drop_claim(without, held->id);
    const auto was = check(without, basis, 0);
    const auto is = check(after.sheet(), basis, 0);
    for (int i = 0; i < was.pilots_size(); ++i) {
        if (was.pilots(i).pilot() == held->owner_name) continue;
        const auto trouble = [](v1::Verdict::Word w) {
            return w == v1::Verdict::clash ? 2 : w == v1::Verdict::shaky ? 1 : 0;
        };
        if (is.pilots(i).verdict() == v1::Verdict::no_picture) continue;
        EXPECT_LE(trouble(is.pilots(i).verdict()), trouble(was.pilots(i).verdict()))
            << was.pilots(i).pilot() << " by " << name;
    }
}

TEST(Day, KeepsItsPromisesWhateverIsAsked) {
    for_all(trials, [](std::mt19937_64& rng) {
        auto course = random_day(rng);
        for (int i = 0; i < commands_a_trial; ++i) {
            const auto before = course.state();
            const auto command = random_command(rng, before);
            const auto actor = random_actor(rng, before);
            const auto reply = course.send(command, actor);
            const auto& after = course.state();
            SCOPED_TRACE(command.ShortDebugString());

            EXPECT_EQ(reply.version(), after.version());
            expect_everything_that_radiates_is_assessed(after);
            expect_no_harm_was_done(before, after, command, reply);
            for (const auto& e : course.events()) {
                if (e.version() <= before.version()) continue;
                if (e.has_claimed() &&
                    command.has_assign()) {  // a plan moves nothing that radiates
                    const auto held = holder(before.sheet(), e.claimed().subject());
                    EXPECT_FALSE(held->radiates());
                }
                if (!e.has_stage_set()) continue;
                // Nobody is permitted on the air without a claim.
                const auto held = holder(before.sheet(), e.stage_set().subject());
                EXPECT_TRUE(held && (held->claim || e.stage_set().unasked()));
            }
            if (reply.has_refusal()) {
                EXPECT_EQ(after.version(), before.version());
            }
            if (::testing::Test::HasFailure()) return;
        }
    });
}

TEST(Day, IsTheSameWhenReplayed) {
    for_all(trials, [](std::mt19937_64& rng) {
        auto course = random_day(rng);
        std::vector<v1::DayState> moments;
        for (int i = 0; i < commands_a_trial / 2; ++i) {
            course.send(random_command(rng, course.state()), random_actor(rng, course.state()));
            moments.push_back(course.state());
        }
        // From bytes, as the log would give them.
        v1::DayState replayed;
        std::size_t moment = 0;
        for (const auto& event : course.events()) {
            v1::Event read;
            ASSERT_TRUE(read.ParseFromString(event.SerializeAsString()));
            apply(replayed, read);
            while (moment < moments.size() && moments[moment].version() < replayed.version())
                ++moment;
            if (moment == moments.size() || moments[moment].version() != replayed.version())
                continue;
            EXPECT_TRUE(MessageDifferencer::Equals(replayed, moments[moment]));
            EXPECT_TRUE(MessageDifferencer::Equals(board(replayed), board(moments[moment])));
        }
        EXPECT_TRUE(MessageDifferencer::Equals(replayed, course.state()));
    });
}

TEST(Day, DecidesTheSameOnTheSame) {
    for_all(trials, [](std::mt19937_64& rng) {
        auto course = random_day(rng);
        const auto command = testing::as_it_stands(random_command(rng, course.state()));
        const auto actor = random_actor(rng, course.state());
        const auto first = decide(course.state(), actor, command, 5);
        const auto second = decide(course.state(), actor, command, 5);
        ASSERT_EQ(first.events.size(), second.events.size());
        for (std::size_t i = 0; i < first.events.size(); ++i)
            EXPECT_TRUE(MessageDifferencer::Equals(first.events[i], second.events[i]));
        EXPECT_TRUE(MessageDifferencer::Equals(first.reply, second.reply));
    });
}

/// Something of the field or of somebody's gear is another than it was.
void change_something(std::mt19937_64& rng, v1::DaySheet& sheet) {
    auto& pilot = *sheet.mutable_pilots(whole(rng, 0, sheet.pilots_size() - 1));
    switch (whole(rng, 0, 8)) {
        case 0:
            sheet.mutable_field()->mutable_places(0)->set_height_m(testing::between(rng, 1, 8));
            break;
        case 1:
            sheet.mutable_field()->mutable_areas(0)->set_radius_m(testing::between(rng, 40, 60));
            break;
        case 2:
            pilot.mutable_video()->mutable_mounting()->set_loss_db(testing::between(rng, 0, 3));
            break;
        case 3:
            pilot.mutable_video()->mutable_mounting()->set_polarisation(
                one_of(rng, {v1::Polarisation::rhcp, v1::Polarisation::lhcp}));
            break;
        case 4:
            if (!pilot.receivers().empty())
                pilot.mutable_receivers(0)->mutable_mounting()->set_facing_deg(
                    testing::between(rng, 0, 360));
            break;
        case 5:
            for (auto& profile : *sheet.mutable_receiver_profiles())
                profile.set_noise_figure_db(testing::between(rng, 4, 12));
            break;
        case 6:
            for (auto& emission : *sheet.mutable_emissions())
                emission.set_sigma_mhz(testing::between(rng, 2, 6));
            break;
        case 7:
            for (auto& antenna : *sheet.mutable_antennas())
                antenna.set_gain_dbi(testing::between(rng, 0, 3));
            break;
        default:
            pilot.set_place(one_of<std::string>(rng, {"line-1", "line-2", "line-3", "chair"}));
    }
}

std::string bytes_of(const Decision& decision) {
    std::string bytes = decision.reply.SerializeAsString();
    for (const auto& event : decision.events) bytes += event.SerializeAsString();
    return bytes;
}

// The check is the other way there is: deciding without a memory. One goes through all courses, so
// that it is full of what was so elsewhere, and before.
TEST(Day, DecidesTheSameWhateverIsInAMemory) {
    Memory memory;
    for_all(trials, [&](std::mt19937_64& rng) {
        auto course = random_day(rng);
        auto state = course.state();
        for (int i = 0; i < commands_a_trial; ++i) {
            if (chance(rng, 30) && !state.sheet().pilots().empty())
                change_something(rng, *state.mutable_sheet());
            const auto command = testing::as_it_stands(random_command(rng, state));
            const auto actor = random_actor(rng, state);
            const auto decision = decide(state, actor, command, i, memory);
            ASSERT_EQ(bytes_of(decision), bytes_of(decide(state, actor, command, i)))
                << decision.reply.ShortDebugString();
            for (const auto& event : decision.events) apply(state, event);
        }
    });
}

}  // namespace
}  // namespace fieldpeg::day
