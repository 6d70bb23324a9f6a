// Whatever a server says: a false one, or one of a later version. What the client takes is shown,
// in every form that there is, and ends nothing.

#include "client/show/day.h"
#include "client/show/flights.h"
#include "client/show/json.h"
#include "client/show/pegs.h"
#include "client/show/picture.h"
#include "client/show/plan.h"
#include "client/show/replies.h"
#include "client/show/report.h"
#include "client/show/strip.h"
#include "fieldpeg/v1/numbers.h"
#include "tests/fuzz/lively_day.h"
#include "tests/fuzz/mutated.h"

#include <cstdint>
#include <string>

namespace fieldpeg {
namespace {

/// In a file, on a terminal, on a narrow one.
constexpr show::Look looks[] = {{0, false}, {80, true}, {20, false}};

void show_sheet(const v1::DaySheet& sheet) {
    show::pegs_html(sheet);
    show::pegs_csv(sheet);
    show::pegs_text(sheet);
}

/// A report of which one part is another server's.
show::ReportSource report_of(const v1::Answer& answer) {
    static const auto usual = [] {
        show::ReportSource source;
        for (const auto& m : fuzz::server_frames()) {
            const auto& a = m.response().answer();
            if (a.has_day()) source.day = a.day();
            if (a.has_board() && source.now.rows().empty()) source.now = a.board();
            if (a.has_log()) source.log = a.log();
            if (a.has_airtime()) source.airtime = a.airtime();
            if (a.has_ready()) source.ready = a.ready();
            if (a.has_timeline_picture()) source.on_paper.timeline = a.timeline_picture();
            if (a.has_field_picture()) source.on_paper.field = a.field_picture();
            if (a.has_spectrum_picture()) source.on_paper.dials = {a.spectrum_picture()};
        }
        source.on_phone = source.on_paper;
        return source;
    }();
    auto source = usual;
    if (answer.has_day()) source.day = answer.day();
    if (answer.has_board()) source.now = answer.board();
    if (answer.has_log()) source.log = answer.log();
    if (answer.has_airtime()) source.airtime = answer.airtime();
    if (answer.has_ready()) source.ready = answer.ready();
    if (answer.has_timeline_picture()) source.on_paper.timeline = answer.timeline_picture();
    return source;
}

void show_report(const v1::Answer& answer) {
    const auto source = report_of(answer);
    if (source.log.entries().empty()) return;
    show::end_of_day_ms(source.log, source.now_ms);
    show::report_html(source);
}

void show_board(const v1::BoardReply& board, const show::Look& look) {
    const auto now_ms = board.at_ms();
    show::board_text(board, now_ms, look);
    show::line_text(board, now_ms, look);
    show::groups_text(board, now_ms, look);
    show::day_end_text(board, now_ms, look);
    show::board_strip(board, look);
}

/// How the radio stands.
void show_assessed(const v1::Answer& a, const show::Look& look) {
    if (a.has_check()) {
        show::check_text(a.check(), look);
        show::check_text(a.check(), look, true);
        show::check_strip(a.check(), look);
        show::doubts_text(a.check(), "Ann", look);
    }
    if (a.has_explain()) show::explain_text(a.explain(), look);
    if (a.has_relay_check()) show::relay_check_text(a.relay_check(), look);
    if (a.has_channels()) show::channels_text(a.channels(), look);
    if (a.has_reach()) show::reach_text(a.reach(), look);
    if (a.has_find()) show::find_text(a.find(), look);
    if (a.has_near()) show::near_text(a.near(), look);
    if (a.has_plan()) show::plan_text(a.plan(), look);
    if (a.has_rota()) show::rota_text(a.rota(), look);
    if (a.has_rota()) show::rota_csv(a.rota());
    if (a.has_room()) show::room_text(a.room(), look);
    if (!a.has_gear()) return;
    show::kits_text(a.gear().library(), look);
    show::gear_list_text(a.gear().library(), look);
    show::gear_text(a.gear().library(), look);
}

/// How the day goes.
void show_day(const v1::Answer& a, const show::Look& look) {
    if (a.has_board()) show_board(a.board(), look);
    if (a.has_log()) show::log_text(a.log(), look);
    if (a.has_day()) show::people_text(a.day(), look);
    if (a.has_day()) show::field_text(a.day(), look);
    if (a.has_ready()) show::ready_text(a.ready(), look);
    if (!a.has_airtime()) return;
    show::flights_text(a.airtime(), look);
    show::flight_totals_text(a.airtime(), look);
}

void show_answer(const v1::Answer& a) {
    for (const auto& look : looks) {
        show_assessed(a, look);
        show_day(a, look);
        if (a.has_spectrum_picture()) show::spectrum_strip(a.spectrum_picture(), look);
    }
    if (a.has_log()) show::log_csv(a.log());
    if (a.has_log()) show::log_json_lines(a.log());
    if (a.has_airtime()) show::flights_csv(a.airtime());
    if (a.has_airtime()) show::flight_totals_csv(a.airtime());
    if (a.has_day()) show_sheet(a.day().sheet());
    if (a.has_spectrum_picture()) show::spectrum_picture(a.spectrum_picture());
    if (a.has_field_picture()) show::field_picture(a.field_picture());
    if (a.has_timeline_picture()) show::timeline_picture(a.timeline_picture());
    if (a.has_reach_picture()) show::reach_picture(a.reach_picture());
    if (a.has_day() || a.has_board() || a.has_log() || a.has_airtime() || a.has_ready() ||
        a.has_timeline_picture())
        show_report(a);
}

void show_frame(const v1::ServerFrame& m) {
    show::json_line(m);
    if (m.response().has_answer()) show_answer(m.response().answer());
    if (m.response().has_progress()) show::progress_text(m.response().progress(), 79);
    for (const auto& look : looks) {
        if (m.response().has_reply())
            show::reply_text(m.response().reply(), 1'800'000'000'000, look);
        if (m.has_change()) show_board(m.change().board(), look);
    }
}

}  // namespace
}  // namespace fieldpeg

extern "C" int LLVMFuzzerTestOneInput(const std::uint8_t* data, std::size_t size) {
    fieldpeg::v1::ServerFrame m;
    if (m.ParseFromArray(data, static_cast<int>(size)) && fieldpeg::v1::are_numbers_plain(m))
        fieldpeg::show_frame(m);
    return 0;
}

extern "C" std::size_t LLVMFuzzerCustomMutator(std::uint8_t* data, std::size_t size,
                                               std::size_t most, unsigned seed) {
    fieldpeg::v1::ServerFrame m;
    const auto& known = fieldpeg::fuzz::server_frames();
    if (size < 2 || !m.ParseFromArray(data, static_cast<int>(size)))
        m = known[seed / 8 % known.size()];
    return fieldpeg::fuzz::mutated(m, data, size, most, seed);
}
