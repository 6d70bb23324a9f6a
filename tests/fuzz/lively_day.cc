#include "tests/fuzz/lively_day.h"

#include "server/planning/plan.h"

#include <google/protobuf/text_format.h>

#include <cstdlib>
#include <initializer_list>

namespace fieldpeg::fuzz {
namespace {

template <class Message>
std::vector<Message> read(std::initializer_list<const char*> texts) {
    std::vector<Message> all;
    for (const auto* text : texts)
        if (!google::protobuf::TextFormat::ParseFromString(text, &all.emplace_back())) std::abort();
    return all;
}

/// One that is not played is played by the fuzzers.
const std::vector<v1::Command>& played() {
    static const auto all = read<v1::Command>({
        R"(claim { transmitter: "Ann" channel { name: "R3" mhz: 5732 } power_dbm: 14 group: 1 })",
        R"(on { transmitter: "Ann" in_steps: true })",
        R"(on { transmitter: "Ann" confirm: true })",
        R"(claim { transmitter: "Bob" channel { name: "R6" mhz: 5843 } group: 2 })",
        R"(on { transmitter: "Bob" when_free: true })",
        R"(on { transmitter: "mast" already: true channel { name: "R4" mhz: 5769 } power_dbm: 27.78 })",
        R"(see { channel { name: "R2" mhz: 5695 } power_dbm: 20 place: "line-1" note: "a van" })",
        R"(call_group { group: 1 })",
    });
    return all;
}

v1::Answer answer(testing::KeptDay& day, const v1::Query& query) {
    if (!planning::takes_long(query)) return day.keeper().answer(query, day.now_ms());
    return planning::plan(query, day.keeper().state().sheet(), {});
}

v1::ServerFrame frame(const v1::Answer& answer) {
    v1::ServerFrame m;
    m.mutable_response()->set_id(1);
    *m.mutable_response()->mutable_answer() = answer;
    return m;
}

v1::ServerFrame frame(const v1::Reply& reply) {
    v1::ServerFrame m;
    m.mutable_response()->set_id(1);
    *m.mutable_response()->mutable_reply() = reply;
    return m;
}

std::vector<v1::ServerFrame> said() {
    std::vector<v1::ServerFrame> all;
    auto& day = lively_day();
    for (const auto& query : queries()) all.push_back(frame(answer(day, query)));
    for (const auto& command : commands()) {
        service::Ask ask;
        ask.command = command;
        all.push_back(frame(day.keeper().prepare({&ask, 1}, day.now_ms()).replies.front()));
    }
    *all.emplace_back().mutable_change() = day.keeper().change({}, {});
    return all;
}

}  // namespace

testing::KeptDay& lively_day() {
    static auto& day = *new testing::KeptDay();  // its folder goes at the end of the process
    static const bool is_lively = [] {
        for (const auto& command : played()) day.take(command);
        day.enter(day.ticket(v1::Role::pilot), "Cyd", 'c');
        day.enter(day.ticket(v1::Role::pilot), "Ann", 'a');
        return true;
    }();
    static_cast<void>(is_lively);
    return day;
}

const std::vector<v1::Command>& commands() {
    static const auto all = [] {
        auto every = played();
        const auto more = read<v1::Command>({
            R"(put { toml: "[[pilot]]\nname = \"Eva\"\nplace = \"line-1\"\narea = \"circuit\"\nkit = \"whoop\"\n" })",
            R"(change_pilot { pilot: "Bob" place: "line-1" power_dbm: 14 channels: "R1-R8" })",
            R"(remove { name: "Bob" })",
            R"(set_rules { rules: "cept-25mw" })",
            R"(claim { transmitter: "Dee" only_try: true })",
            R"(release { transmitter: "Ann" reason: "home" })",
            R"(off { transmitter: "Ann" down: true near: "the hedge" })",
            R"(off { transmitter: "mast" undoable: true })",
            R"(unsee { sighting: 5 })",
            R"(acknowledge_warning { all: true })",
            R"(acknowledge_warning { warning: 9 cannot_reach: true })",
            R"(nod { name: "Ann" })",
            R"(nod { name: "Ann" refuse: true })",
            R"(withdraw_key { name: "Cyd" })",
            R"(renew_ticket { role: pilot })",
            R"(assign { all { transmitter: "Ann" channel { name: "R1" mhz: 5658 } power_dbm: 14 group: 1 }
                        all { transmitter: "Bob" channel { name: "R8" mhz: 5917 } power_dbm: 14 group: 2 } })",
            R"(sweep { sweep { start_mhz: 5700 step_mhz: 1 resolution_mhz: 1
                       level_dbm: -90 level_dbm: -60 level_dbm: -91 level_dbm: -90 level_dbm: -92 level_dbm: -90
                       level_dbm: -90 level_dbm: -90 level_dbm: -91 level_dbm: -90 level_dbm: -92 level_dbm: -90 } })",
            R"(close_field { because: "hail" now: true })",
            R"(open_field { })",
            R"(leave_line { transmitter: "Bob" })",
            R"(move_in_line { transmitter: "Bob" place: 1 })",
            R"(hand_over { name: "Cyd" })",
            R"(walk { transmitter: "Ann" })",
        });
        every.insert(every.end(), more.begin(), more.end());
        return every;
    }();
    return all;
}

const std::vector<v1::Query>& queries() {
    static const auto all = read<v1::Query>({
        R"(check { basis: held contributions: 3 })",
        R"(check { basis: on_air contributions: 3 all_at_once: true })",
        R"(explain { pilot: "Ann" basis: held contributions: 3 })",
        R"(relay_check { relay: "mast" all_steps: true })",
        R"(bare_relay_check { channel { mhz: 5800 } power_dbm: 14 owner_distance_m: 22
            neighbour_channel { mhz: 5843 } neighbour_distance_m: 8 neighbour_power_dbm: 14 neighbour_range_m: 130 })",
        R"(gear { })",
        R"(gear { name: "fm-video" })",
        R"(channels { channels { name: "R1" mhz: 5658 } channels { name: "R3" mhz: 5732 }
            channels { name: "R5" mhz: 5806 } reach_mhz: 35 })",
        R"(board { })",
        R"(log { within_mhz: 20 })",
        R"(day { })",
        R"(ready { })",
        R"(near { mhz: 5732 within_mhz: 50 contributions: 3 })",
        R"(spectrum_picture { pilot: "Ann" basis: held })",
        R"(field_picture { basis: held })",
        R"(timeline_picture { })",
        R"(reach { pilot: "Ann" basis: held })",
        R"(reach_picture { pilot: "Ann" basis: held })",
        R"(find { transmitter: "Ann" })",
        R"(free { transmitter: "Dee" })",
        R"(airtime { })",
        R"(board { } moment { version: 6 })",
        R"(plan { planned { } })",
        R"(rota { planned { } })",
        R"(room { planned { } like: "Ann" })",
    });
    return all;
}

const std::vector<v1::ServerFrame>& server_frames() {
    static const auto all = said();
    return all;
}

}  // namespace fieldpeg::fuzz
