#include "client/show/report.h"
#include "client/show/course.h"
#include "client/verbs/verb.h"

#include <unistd.h>

#include <string>
#include <utility>

namespace fieldpeg::verbs {
namespace {

struct Options {
    Common common;
    std::string out;
};

/// Asks, and leaves a refusal behind if there is one.
v1::Answer asked(link::Link& link, const v1::Query& query, v1::Refusal& refusal) {
    auto answer = link.ask(query);
    if (answer.has_refusal() && refusal.why().empty()) refusal = answer.refusal();
    return answer;
}

/// Everything up to one entry of the log, so that all parts tell of one moment.
v1::Refusal gather(link::Link& link, show::ReportSource& source) {
    v1::Refusal refusal;
    v1::Query log, first, now, day, ready;
    log.mutable_log();
    first.mutable_board();
    first.mutable_moment()->set_version(1);
    ready.mutable_ready();
    source.log = asked(link, log, refusal).log();
    source.first = asked(link, first, refusal).board();
    source.ready = asked(link, ready, refusal).ready();
    if (!refusal.why().empty()) return refusal;
    now.mutable_board();
    now.mutable_moment()->set_version(source.log.last_version());
    day.mutable_day();
    *day.mutable_moment() = now.moment();
    source.now = asked(link, now, refusal).board();
    source.day = asked(link, day, refusal).day();
    source.now_ms = link.now_ms();
    source.busiest_ms = 0;
    const auto busiest = show::busiest_version(source.first, source.log);
    if (busiest == 0) return refusal;
    day.mutable_moment()->set_version(busiest);
    source.busiest = asked(link, day, refusal).day();
    source.busiest_ms = source.first.at_ms();
    for (const auto& e : source.log.entries())
        if (e.version() == busiest) source.busiest_ms = e.at_ms();
    return refusal;
}

int report(const Options& options) {
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
    return write_file(options.out, html) ? done : failed;
}

}  // namespace

void add_report(Verb& program, Run& run) {
    const auto options = std::make_shared<Options>();
    auto verb = program.verb(
        "report", "The day as one HTML file: pictures, who was where, warnings, gear, the log");
    verb.value("--out", options->out, "into this file; default: standard output").type_name("FILE");
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
