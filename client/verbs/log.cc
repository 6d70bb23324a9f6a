#include "client/show/day.h"
#include "client/show/json.h"
#include "client/show/times.h"
#include "client/verbs/verb.h"
#include "server/day/words.h"

#include <string>

namespace fieldpeg::verbs {
namespace {

struct Options {
    Common common;
    std::string pilot, from, to, near, at, kind;
    unsigned contributions = 6;
    double within_mhz = 20;
    unsigned last = 0;
    std::uint64_t after = 0;
    std::string form = "table";
};

bool set_time(std::string_view flag, const std::string& written, link::Link& link,
              std::int64_t& at_ms, int& status) {
    if (written.empty()) return true;
    const auto moment = moment_argument(flag, written, link, status);
    if (!moment) return false;
    if (moment->at_ms() == 0) {
        status = say_bad_input("log", "--from and --to take times; --after takes a number");
        return false;
    }
    at_ms = moment->at_ms();
    return true;
}

/// Who could have hit whom: the state at a moment instead of entries.
int near(const Options& options) {
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

int log(const Options& options) {
    if (!options.at.empty()) {
        if (options.near.empty())
            return say_bad_input("--at", "goes with --near: who was near a channel at a time");
        return near(options);
    }
    const auto [link, status] = open_course(options.common, Access::read);
    if (!link) return status;
    v1::Query query;
    auto& ask = *query.mutable_log();
    std::int64_t from_ms = 0, to_ms = 0;
    int wrong = bad_input;
    if (!set_time("--from", options.from, *link, from_ms, wrong) ||
        !set_time("--to", options.to, *link, to_ms, wrong))
        return wrong;
    ask.set_from_ms(from_ms == 0 ? 0 : from_ms - 999);
    ask.set_to_ms(to_ms);
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
    return reply.verified() ? done : failed;
}

}  // namespace

void add_log(Verb& program, Run& run) {
    const auto options = std::make_shared<Options>();
    auto verb = program.verb(
        "log", "What happened, in order: who, on which frequency, at what power, when");
    verb.value("--pilot", options->pilot,
               "a pilot or relay, as the one who did it or the one it was about")
        .type_name("NAME");
    verb.value("--from", options->from, "14:32, or 2026-09-19 14:32").type_name("TIME");
    verb.value("--to", options->to, "likewise").type_name("TIME");
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
    add_course(verb, options->common);
    verb.footer(
        "Exit status 1: the chain of hashes does not hold.\n"
        "Examples:\n"
        "  fieldpeg log --pilot Ann --from 14:00\n"
        "  fieldpeg log --near R4 --within 10\n"
        "  fieldpeg log --near 5800 --at 14:32\n"
        "  fieldpeg log --form csv > saturday.csv");
    verb.callback([options, &run] { run = [options] { return log(*options); }; });
}

}  // namespace fieldpeg::verbs
