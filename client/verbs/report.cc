#include "client/show/report.h"
#include "client/show/picture.h"
#include "client/verbs/pages.h"
#include "client/verbs/verb.h"

#include <unistd.h>

#include <string>
#include <utility>

namespace fieldpeg::verbs {
namespace {

struct ReportOptions {
    Common common;
    std::string out;
    bool force = false;
};

/// Asks, and leaves a refusal behind if there is one.
v1::Answer asked(link::Link& link, const v1::Query& query, v1::Refusal& refusal) {
    auto answer = link.ask(query);
    if (answer.has_refusal() && refusal.why().empty()) refusal = answer.refusal();
    return answer;
}

/// The pictures of a day, as its log ends at `last`: its field and dials when most were on the air.
show::ReportPictures pictures(link::Link& link, const v1::Paper& paper, const v1::Moment& last,
                              std::int64_t until_ms, v1::Refusal& refusal) {
    show::ReportPictures all;
    v1::Query course, field, day;
    *course.mutable_moment() = last;
    *course.mutable_timeline_picture()->mutable_paper() = paper;
    course.mutable_timeline_picture()->set_until_ms(until_ms);
    all.timeline = asked(link, course, refusal).timeline_picture();
    const auto busiest = all.timeline.busiest_version();
    const auto basis = busiest != 0 ? v1::Basis::on_air : v1::Basis::held;
    v1::Moment then = last;
    if (busiest != 0) then.set_version(busiest);
    *field.mutable_moment() = then;
    field.mutable_field_picture()->set_basis(basis);
    *field.mutable_field_picture()->mutable_paper() = paper;
    all.field = asked(link, field, refusal).field_picture();
    *day.mutable_moment() = then;
    day.mutable_day();
    const auto sheet = asked(link, day, refusal).day().sheet();
    for (const auto& pilot : sheet.pilots()) {
        v1::Query dial;
        *dial.mutable_moment() = then;
        dial.mutable_spectrum_picture()->set_pilot(pilot.name());
        dial.mutable_spectrum_picture()->set_basis(basis);
        *dial.mutable_spectrum_picture()->mutable_paper() = paper;
        auto answer = link.ask(dial);
        const auto why = answer.refusal().kind();
        if (answer.has_spectrum_picture())
            all.dials.push_back(std::move(*answer.mutable_spectrum_picture()));
        else if (why != v1::Refusal::conflict && why != v1::Refusal::not_found)
            refusal = answer.refusal();  // but who heard nothing has no dial
    }
    return all;
}

v1::Refusal not_begun() {
    v1::Refusal why;
    why.set_kind(v1::Refusal::not_found);
    why.set_where("report");
    why.set_why("the day has not begun: nothing is on its log yet");
    why.set_next("the evening before it is: fieldpeg pegs --out pegs.html");
    return why;
}

/// Everything up to one entry of the log, so that all parts tell of one moment.
v1::Refusal gather(link::Link& link, show::ReportSource& source) {
    v1::Refusal refusal;
    v1::Query log, now, day, ready, airtime;
    log.mutable_log();
    ready.mutable_ready();
    source.log = asked(link, log, refusal).log();
    source.ready = asked(link, ready, refusal).ready();
    if (!refusal.why().empty()) return refusal;
    if (source.log.entries().empty()) return not_begun();
    now.mutable_board();
    now.mutable_moment()->set_version(source.log.last_version());
    day.mutable_day();
    *day.mutable_moment() = now.moment();
    source.now = asked(link, now, refusal).board();
    source.day = asked(link, day, refusal).day();
    source.now_ms = link.now_ms();
    const auto until_ms = show::end_of_day_ms(source.log, source.now_ms);
    *airtime.mutable_moment() = now.moment();
    airtime.mutable_airtime()->set_until_ms(until_ms);
    source.airtime = asked(link, airtime, refusal).airtime();
    for (auto [paper, into] : {std::pair(v1::Paper(), &source.on_paper),
                               std::pair(show::phone_paper(), &source.on_phone)})
        *into = pictures(link, paper, now.moment(), until_ms, refusal);
    return refusal;
}

int report(const ReportOptions& options) {
    const bool to_terminal = options.out.empty() && ::isatty(STDOUT_FILENO) == 1;
    if (to_terminal)
        return say_bad_input("report", "is a page for a browser: --out FILE, or into a pipe");
    const auto [link, status] = open_course(options.common, Access::read);
    if (!link) return status;
    show::ReportSource source;
    const auto refusal = gather(*link, source);
    if (!refusal.why().empty()) return say_refusal(refusal);
    const auto html = show::report_html(source);
    if (options.out.empty()) return print(html) ? done : failed;
    return write_page(options.out, html, options.force);
}

}  // namespace

void add_report(Verb& program, Run& run) {
    const auto options = std::make_shared<ReportOptions>();
    auto verb = program.verb(
        "report", "The day as one HTML file: pictures, who was where, warnings, gear, the log");
    verb.value("--out", options->out, "into this file; default: standard output").type_name("FILE");
    verb.flag("--force", options->force,
              "over another day's report, or another page of Fieldpeg's");
    add_day(verb, options->common);
    add_as(verb, options->common);
    verb.footer(
        "The file needs nothing else: send it, print it, keep it with the log. It holds the names "
        "of\npeople.\n"
        "Examples:\n"
        "  fieldpeg report --out saturday.html\n"
        "  fieldpeg report --day saturday.toml > saturday.html");
    verb.callback([options, &run] { run = [options] { return report(*options); }; });
}

}  // namespace fieldpeg::verbs
