#include "client/show/day.h"
#include "client/show/flights.h"
#include "client/show/json.h"
#include "client/show/times.h"
#include "client/verbs/verb.h"
#include "server/day/words.h"

#include <iostream>
#include <optional>
#include <string>

namespace fieldpeg::verbs {
namespace {

struct LogOptions {
    Common common;
    std::string pilot, from, to, near, at, kind;
    unsigned contributions = 6;
    double within_mhz = 20;
    unsigned last = 0;
    std::uint64_t after = 0;
    std::string form = "table";
    bool flights = false, totals = false;
};

/// A time that was asked about; 0: none was. None: it is wrong, which has been said.
std::optional<std::int64_t> time_argument(std::string_view flag, const std::string& written,
                                          link::Link& link, int& status) {
    if (written.empty()) return 0;
    const auto moment = moment_argument(flag, written, link, status);
    if (!moment) return std::nullopt;
    if (moment->at_ms() != 0) return moment->at_ms();
    status = say_bad_input("log", "--from and --to take times; --after takes a number");
    return std::nullopt;
}

/// Who could have hit whom: the state at a moment instead of entries.
int near(const LogOptions& options) {
    const auto channel = channel_argument("--near", options.near);
    if (!channel) return bad_input;
    const auto [link, status] = open_course(options.common, Access::read);
    if (!link) return status;
    int wrong = bad_input;
    const auto moment = moment_argument("--at", options.at, *link, wrong);
    if (!moment) return wrong;
    v1::Query query;
    query.mutable_near()->set_mhz(channel->mhz());
    query.mutable_near()->set_within_mhz(options.within_mhz);
    query.mutable_near()->set_contributions(options.contributions);
    *query.mutable_moment() = *moment;
    const auto answer = link->ask(query);
    if (answer.has_refusal()) return say_refusal(answer.refusal());
    return print(options.common.json ? show::json_text(answer.near())
                                     : show::near_text(answer.near(), show::look_of_stdout()))
               ? done
               : failed;
}

/// The times that were asked about. False: they are wrong, which has been said.
bool set_times(const LogOptions& options, link::Link& link, v1::LogQuery& ask, int& status) {
    const auto from_ms = time_argument("--from", options.from, link, status);
    if (!from_ms) return false;
    if (*from_ms != 0) ask.set_from_ms(*from_ms - 999);
    if (*from_ms == 0 || options.to.empty() || options.to.starts_with('#')) {
        const auto to_ms = time_argument("--to", options.to, link, status);
        if (to_ms) ask.set_to_ms(*to_ms);
        return to_ms.has_value();
    }
    const auto end = show::read_end(options.to, *from_ms);
    if (!end)
        status = say_refusal(in("--to", end.error()));
    else if (end->at_ms() < *from_ms)
        status = say_bad_input("--to", "is before --from");
    else
        ask.set_to_ms(end->at_ms());
    return ask.to_ms() != 0;
}

/// Of what time nothing was found. Nothing else would say so where the answer is for a program.
void say_none(const v1::LogQuery& asked, bool is_said_already) {
    std::string when;
    if (asked.from_ms() != 0) when += " from " + show::date_time_text(asked.from_ms());
    if (asked.to_ms() != 0) when += " to " + show::date_time_text(asked.to_ms());
    if (when.empty() && is_said_already) return;
    std::cerr << "fieldpeg: nothing on the log matches" << when << '\n';
}

std::string flights_text(const LogOptions& options, const v1::AirtimeReply& reply) {
    if (options.common.json) return show::json_text(reply);
    if (options.form == "csv")
        return options.totals ? show::flight_totals_csv(reply) : show::flights_csv(reply);
    const auto look = show::look_of_stdout();
    return options.totals ? show::flight_totals_text(reply, look) : show::flights_text(reply, look);
}

/// Who was in the air when, instead of entries.
int flights(const LogOptions& options) {
    if (options.form == "jsonl" || !options.near.empty() || !options.at.empty() ||
        !options.kind.empty() || options.after != 0 || options.last != 0)
        return say_bad_input("--flights",
                             "goes with --totals, --pilot, --from, --to, --json and --form csv");
    const auto [link, status] = open_course(options.common, Access::read);
    if (!link) return status;
    v1::LogQuery times;
    int wrong = bad_input;
    if (!set_times(options, *link, times, wrong)) return wrong;
    v1::Query query;
    auto& ask = *query.mutable_airtime();
    ask.set_pilot(options.pilot);
    ask.set_from_ms(times.from_ms());
    ask.set_to_ms(times.to_ms());
    const auto answer = link->ask(query);
    if (answer.has_refusal()) return say_refusal(answer.refusal());
    if (!print(flights_text(options, answer.airtime()))) return failed;
    if (answer.airtime().flights().empty()) say_none(times, options.form != "csv");
    return done;
}

int log(const LogOptions& options) {
    if (options.flights) return flights(options);
    if (options.totals)
        return say_bad_input("--totals", "goes with --flights: how long everybody was in the air");
    if (!options.at.empty()) {
        if (options.near.empty())
            return say_bad_input("--at", "goes with --near: who was near a channel at a time");
        return near(options);
    }
    const auto [link, status] = open_course(options.common, Access::read);
    if (!link) return status;
    v1::Query query;
    auto& ask = *query.mutable_log();
    int wrong = bad_input;
    if (!set_times(options, *link, ask, wrong)) return wrong;
    ask.set_pilot(options.pilot);
    ask.set_kind(options.kind);
    ask.set_after(options.after);
    ask.set_within_mhz(options.within_mhz);
    if (!options.near.empty()) {
        const auto channel = channel_argument("--near", options.near);
        if (!channel) return bad_input;
        ask.set_near_mhz(channel->mhz());
    }
    auto answer = link->ask(query);
    if (answer.has_refusal()) return say_refusal(answer.refusal());
    auto& reply = *answer.mutable_log();
    if (options.last > 0 && reply.entries_size() > static_cast<int>(options.last))
        reply.mutable_entries()->DeleteSubrange(
            0, reply.entries_size() - static_cast<int>(options.last));
    std::string text;
    if (options.common.json)
        text = show::json_text(reply);
    else if (options.form == "csv")
        text = show::log_csv(reply);
    else if (options.form == "jsonl")
        text = show::log_json_lines(reply);
    else
        text = show::log_text(reply, show::look_of_stdout());
    if (!text.empty() && !print(text)) return failed;
    if (reply.entries().empty()) say_none(ask, options.form == "table" || options.common.json);
    return reply.verified() ? done : failed;
}

}  // namespace

void add_log(Verb& program, Run& run) {
    const auto options = std::make_shared<LogOptions>();
    auto verb = program.verb(
        "log", "What happened, in order: who, on which frequency, at what power, when");
    verb.value("--pilot", options->pilot,
               "a pilot or relay, as the one who did it or the one it was about")
        .type_name("NAME");
    verb.value("--from", options->from, "14:32, or 2026-09-19 14:32").type_name("TIME");
    verb.value("--to", options->to, "likewise; without a date the first such time after --from")
        .type_name("TIME");
    verb.value("--near", options->near, "around this channel").type_name("CHANNEL");
    verb.value("--at", options->at,
               "with --near: who could have hit whom there at this moment, 14:32 or #120")
        .type_name("TIME");
    verb.value("--within", options->within_mhz, "how far around, in MHz")
        .type_name("MHZ")
        .shows_default();
    verb.value("--kind", options->kind,
               "claimed, released, on_air, off_air, bench, down, sighting, warning, joined, ...")
        .type_name("KIND");
    verb.value("--after", options->after, "only entries after this number").type_name("NUMBER");
    verb.value("--last", options->last, "only the newest N").type_name("N");
    verb.value("--form", options->form, "table, csv (times in UTC), or jsonl: a JSON object a line")
        .type_name("FORM")
        .one_of({"table", "csv", "jsonl"});
    verb.flag("--flights", options->flights,
              "who was in the air when: flights and minutes, in local time");
    verb.flag("--totals", options->totals, "with --flights: only how many and how long in all");
    add_course(verb, options->common);
    verb.footer(
        "Exit status 1: the chain of hashes does not hold.\n"
        "Examples:\n"
        "  fieldpeg log --pilot Ann --from 14:00\n"
        "  fieldpeg log --from 23:00 --to 00:30\n"
        "  fieldpeg log --near R4 --within 10\n"
        "  fieldpeg log --near 5800 --at 14:32\n"
        "  fieldpeg log --form csv > saturday.csv\n"
        "  fieldpeg log --flights --form csv > flights.csv");
    add_log_file(verb, run);
    add_log_archived(verb, run);
    verb.callback([options, &run] {  // called after that of a verb below it
        if (!run) run = [options] { return log(*options); };
    });
}

}  // namespace fieldpeg::verbs
