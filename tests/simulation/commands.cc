#include "tests/simulation/commands.h"

#include "server/day/state.h"
#include "tests/support/pegs.h"
#include "tests/support/random.h"

#include <array>
#include <vector>

namespace fieldpeg::simulation {
namespace {

using testing::chance;
using testing::one_of;
using testing::PilotText;
using testing::RelayText;
using testing::whole;

constexpr double power_25_mw_dbm = 13.979400086720376;
constexpr double power_200_mw_dbm = 23.010299956639813;

const std::string powers = "power_mw = [25, 200]";
const std::string mark_begins = "mark-";

class Asking {
public:
    Asking(Chance& chance, const v1::DayState& known, const v1::Person& who, std::string mark)
        : chance_(chance), known_(known), who_(who), mark_(mark_begins + std::move(mark)) {}

    v1::Command command() {
        const int kind = whole(chance_, 0, 99);
        if (kind < 60) return of_a_flight(kind);
        if (kind < 72) return of_what_is_seen(kind - 60);
        if (kind < 84) return of_the_line(kind - 72);
        return of_the_day(kind - 84);
    }

private:
    /// One's own, mostly; the marshal speaks for anybody.
    std::string transmitter() {
        std::vector<std::string> own;
        std::vector<std::string> all;
        day::for_each_holder(known_.sheet(), [&](const auto& one) {
            all.push_back(one.name());
            const auto held = day::holder(known_.sheet(), one.id());
            if (held && held->owner == who_.id()) own.push_back(one.name());
        });
        const bool is_marshal = who_.role() == v1::Role::marshal;
        if (!own.empty() && !chance(chance_, is_marshal ? 30 : 8)) return any(own);
        return any(all);
    }

    std::string any(const std::vector<std::string>& of) {
        if (of.empty()) return "nobody";
        return of[static_cast<std::size_t>(whole(chance_, 0, static_cast<int>(of.size()) - 1))];
    }

    v1::Channel channel() {
        return testing::channel(one_of<std::string>(chance_, {"R1", "R3", "R3", "R5", "R7", "R8"}));
    }
    double power_dbm() { return chance(chance_, 80) ? power_25_mw_dbm : power_200_mw_dbm; }
    std::string because() {
        return who_.role() == v1::Role::marshal && chance(chance_, 15) ? mark_ : "";
    }

    v1::Command of_a_flight(int kind) {
        v1::Command c;
        if (kind < 20) {
            auto& ask = *c.mutable_claim();
            ask.set_transmitter(transmitter());
            if (chance(chance_, 85)) *ask.mutable_channel() = channel();
            if (chance(chance_, 70)) ask.set_power_dbm(power_dbm());
            if (chance(chance_, 15))
                ask.set_group(static_cast<std::uint32_t>(whole(chance_, 0, 2)));
            ask.set_yes_anyway(chance(chance_, 40));
            ask.set_only_try(chance(chance_, 5));
            ask.set_allowed_because(because());
        } else if (kind < 24) {
            c.mutable_release()->set_transmitter(transmitter());
            c.mutable_release()->set_reason(mark_);
        } else if (kind < 43) {
            auto& ask = *c.mutable_on();
            ask.set_transmitter(transmitter());
            ask.set_bench(chance(chance_, 10));
            ask.set_already(chance(chance_, 10));
            if (ask.already() && chance(chance_, 40)) *ask.mutable_channel() = channel();
            ask.set_yes_anyway(chance(chance_, 60));
            ask.set_in_steps(chance(chance_, 40));
            ask.set_confirm(chance(chance_, 25));
            ask.set_when_free(chance(chance_, 30));
            ask.set_out_of_turn(who_.role() == v1::Role::marshal && chance(chance_, 30));
            ask.set_allowed_because(because());
        } else {
            auto& ask = *c.mutable_off();
            ask.set_transmitter(transmitter());
            ask.set_down(chance(chance_, 12));
            ask.set_silent(chance(chance_, 40));
            ask.set_yes_anyway(chance(chance_, 50));
            ask.set_not_after_all(chance(chance_, 10));
            ask.set_undoable(chance(chance_, 30));
        }
        return c;
    }

    v1::Command of_what_is_seen(int kind) {
        v1::Command c;
        const auto& sightings = known_.sheet().sightings();
        if (kind < 5 || (kind < 8 && sightings.empty())) {
            auto& ask = *c.mutable_see();
            *ask.mutable_channel() = testing::channel(one_of<std::string>(chance_, {"E2", "E5"}));
            ask.set_emission("fm-video");
            ask.set_note(mark_);
        } else if (kind < 8) {
            c.mutable_unsee()->set_sighting(
                sightings[whole(chance_, 0, sightings.size() - 1)].id());
        } else if (kind < 10) {
            auto& sweep = *c.mutable_sweep()->mutable_sweep();
            sweep.set_start_mhz(5600);
            sweep.set_step_mhz(5);
            sweep.set_resolution_mhz(5);
            sweep.set_note(mark_);
            for (int i = 0; i < 40; ++i)
                sweep.add_level_dbm(static_cast<float>(whole(chance_, -100, -80)));
            c.mutable_sweep()->set_use_floor(chance(chance_, 20));
        } else {
            auto& ask = *c.mutable_measurement();
            ask.set_pilot(transmitter());
            ask.set_note(mark_);
            ask.mutable_weakest()->set_power_dbm(power_25_mw_dbm);
            ask.mutable_weakest()->set_away_m(whole(chance_, 300, 900));
        }
        return c;
    }

    v1::Command of_the_line(int kind) {
        v1::Command c;
        if (kind < 3) {
            c.mutable_leave_line()->set_transmitter(waiting());
        } else if (kind < 5) {
            c.mutable_move_in_line()->set_transmitter(waiting());
            c.mutable_move_in_line()->set_place(static_cast<std::uint32_t>(whole(chance_, 1, 2)));
        } else if (kind < 7) {
            auto& ask = *c.mutable_call_group();
            ask.set_group(static_cast<std::uint32_t>(whole(chance_, 0, 2)));
            ask.set_down(chance(chance_, 30));
            ask.set_yes_anyway(chance(chance_, 50));
        } else if (known_.has_closed() || kind < 8) {
            c.mutable_open_field();
        } else if (kind < 9) {
            c.mutable_close_field()->set_because(mark_);
            c.mutable_close_field()->set_now(chance(chance_, 30));
        } else {
            auto& ask = *c.mutable_walk();
            ask.set_transmitter(transmitter());
            ask.set_is_back(chance(chance_, 50));
        }
        return c;
    }

    std::string waiting() {
        if (known_.line().empty()) return transmitter();
        const auto held = day::holder(
            known_.sheet(), known_.line(whole(chance_, 0, known_.line_size() - 1)).subject());
        return held ? held->name : "nobody";
    }

    v1::Command of_the_day(int kind) {
        switch (kind) {
            case 0:
            case 1:
                return put();
            case 2:
                return change();
            case 3:
                return remove();
            case 4:
                return assign();
            case 5:
            case 6:
            case 7:
                return of_warnings();
            case 8:
            case 9:
            case 10:
            case 11:
                return of_people(v1::Command::kNod);
            case 12:
                return of_people(chance(chance_, 50) ? v1::Command::kWithdrawKey
                                                     : v1::Command::kHandOver);
            case 13:
                return ticket();
            default:
                return of_the_file();
        }
    }

    v1::Command put() {
        v1::Command c;
        c.mutable_put()->set_toml(testing::unclaimed(
            PilotText{.name = "Guest " + mark_, .place = "pits", .more_video = powers}));
        c.mutable_put()->set_only_new(chance(chance_, 80));
        return c;
    }

    v1::Command change() {
        v1::Command c;
        auto& ask = *c.mutable_change_pilot();
        ask.set_pilot(transmitter());
        ask.set_place(one_of<std::string>(chance_, {"line-1", "line-2", "line-4"}));
        if (chance(chance_, 20)) ask.add_power_dbm(power_25_mw_dbm);
        return c;
    }

    v1::Command remove() {
        std::vector<std::string> guests;
        for (const auto& p : known_.sheet().pilots())
            if (p.name().starts_with("Guest")) guests.push_back(p.name());
        v1::Command c;
        c.mutable_remove()->set_name(chance(chance_, 80) ? any(guests) : transmitter());
        return c;
    }

    v1::Command assign() {
        v1::Command c;
        auto& ask = *c.mutable_assign();
        constexpr std::array channels{"R1", "R3", "R5", "R7"};
        std::size_t at = 0;
        day::for_each_holder(known_.sheet(), [&](const auto& one) {
            if (day::radiates(one.claim().stage()) || at == channels.size()) return;
            auto& share = *ask.add_all();
            share.set_transmitter(one.name());
            *share.mutable_channel() = testing::channel(channels.at(at++));
            share.set_power_dbm(power_25_mw_dbm);
            share.set_group(one.claim().group());
        });
        if (chance(chance_, 40)) ask.set_allowed_because(mark_);
        return c;
    }

    v1::Command of_warnings() {
        v1::Command c;
        auto& ask = *c.mutable_acknowledge_warning();
        if (known_.unacknowledged().empty() || chance(chance_, 20))
            ask.set_all(true);
        else
            ask.set_warning(known_.unacknowledged(0).version());
        ask.set_cannot_reach(chance(chance_, 20));
        return c;
    }

    v1::Command of_people(v1::Command::AskCase kind) {
        std::vector<std::string> names;
        for (const auto& p : known_.people())
            if (kind != v1::Command::kNod || day::is_waiting(p)) names.push_back(p.name());
        v1::Command c;
        if (kind == v1::Command::kNod) {
            c.mutable_nod()->set_name(any(names));
            c.mutable_nod()->set_refuse(chance(chance_, 15));
        } else if (kind == v1::Command::kWithdrawKey) {
            c.mutable_withdraw_key()->set_name(any(names));
        } else {
            c.mutable_hand_over()->set_name(any(names));
        }
        return c;
    }

    v1::Command ticket() {
        v1::Command c;
        if (chance(chance_, 50))
            c.mutable_renew_ticket()->set_pilot(transmitter());
        else
            c.mutable_renew_ticket()->set_role(
                one_of(chance_, {v1::Role::pilot, v1::Role::onlooker}));
        return c;
    }

    v1::Command of_the_file() {
        v1::Command c;
        if (chance(chance_, 50)) {
            c.mutable_set_rules()->set_rules(one_of<std::string>(chance_, {"", "cept-25mw"}));
            return c;
        }
        c.mutable_take_day()->set_toml(
            testing::changed(day_text(), "Training evening", "Evening " + mark_));
        c.mutable_take_day()->set_only(chance(chance_, 70) ? "day" : "");
        c.mutable_take_day()->set_yes_anyway(chance(chance_, 70));
        return c;
    }

    Chance& chance_;
    const v1::DayState& known_;
    const v1::Person& who_;
    std::string mark_;
};

/// Of what is written in an event, what begins as a mark does.
std::string found(const std::string& text) {
    const auto at = text.find(mark_begins);
    if (at == std::string::npos) return "";
    const auto begins = at + mark_begins.size();
    return text.substr(begins, text.find(' ', begins) - begins);
}

}  // namespace

std::string day_text() {
    const auto pilot = [](const std::string& name, const std::string& place) {
        return testing::unclaimed(PilotText{.name = name, .place = place, .more_video = powers});
    };
    return testing::field_text() + pilot("Ann", "line-1") + pilot("Ben", "line-2") +
           pilot("Cem", "line-3") + pilot("Dee", "chair") +
           testing::unclaimed(RelayText{.name = "mast", .owner = "Dee", .more = powers});
}

v1::Command random_command(Chance& chance, const v1::DayState& known, const v1::Person& who,
                           const std::string& mark) {
    return Asking(chance, known, who, mark).command();
}

std::string name_of(const v1::Command& command) {
    const auto* field = v1::Command::descriptor()->FindFieldByNumber(command.ask_case());
    return field ? field->name() : "nothing";
}

std::string mark_in(const v1::Event& event) {
    switch (event.what_case()) {
        case v1::Event::kReleased:
            return found(event.released().reason());
        case v1::Event::kSeen:
            return found(event.seen().sighting().note());
        case v1::Event::kSwept:
            return found(event.swept().sweep().note());
        case v1::Event::kFieldClosed:
            return found(event.field_closed().because());
        case v1::Event::kHeadSet:
            return found(event.head_set().name());
        case v1::Event::kStageSet:
            return found(event.stage_set().allowed_because());
        default:
            return "";
    }
}

}  // namespace fieldpeg::simulation
