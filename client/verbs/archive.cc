#include "client/link/archive.h"

#include "client/link/link.h"
#include "client/show/archive.h"
#include "client/show/json.h"
#include "client/show/times.h"
#include "client/verbs/parts.h"
#include "client/verbs/verb.h"

#include <fmt/format.h>

#include <chrono>
#include <cstdlib>
#include <memory>
#include <utility>

/// Days of many fields and years in a database: into it, out of it, and what it is asked.
namespace fieldpeg::verbs {
namespace {

constexpr unsigned years_max = 1000;

struct ArchiveOptions {
    std::string archive, file, to, day, who, near, from, until, form = "table";
    double within_mhz = 10;
    unsigned last = 100, years = 0;
    Common common;
    bool keep = false;
};

using Shared = std::shared_ptr<ArchiveOptions>;

/// The one that is named, or meant all the time.
std::string archive_of(const ArchiveOptions& options) {
    if (!options.archive.empty()) return options.archive;
    const char* meant = std::getenv("FIELDPEG_ARCHIVE");
    return meant ? meant : "";
}

/// A day of the calendar as a moment of the local clock.
bool read_date(const char* flag, const std::string& written, const char* clock, std::int64_t& ms) {
    if (written.empty()) return true;
    if (is_date(written))
        if (const auto moment = show::read_moment(written + clock, 0, link::local_ms())) {
            ms = moment->at_ms();
            return true;
        }
    say_bad_input(flag, fmt::format("'{}' is no date: write 2026-09-19", written));
    return false;
}

/// The last year, where nothing else is said; of those that are asked for all of it, all.
bool read_span(const ArchiveOptions& options, bool is_all, link::ArchiveSpan& span) {
    span.to_ms = link::local_ms();
    constexpr std::int64_t year_ms = std::int64_t{366} * 24 * 3'600'000;
    span.from_ms = is_all ? 0 : span.to_ms - year_ms;
    return read_date("--from", options.from, " 00:00:00", span.from_ms) &&
           read_date("--to", options.until, " 23:59:59", span.to_ms);
}

template <class Reply>
int show(const Result<Reply>& reply, const ArchiveOptions& options,
         std::string (*text)(const Reply&, const show::Look&), std::string (*csv)(const Reply&)) {
    if (!reply) return say_refusal(reply.error());
    const auto shown = options.common.json     ? show::json_text(*reply)
                       : options.form == "csv" ? csv(*reply)
                                               : text(*reply, show::look_of_stdout());
    return print(shown) ? done : failed;
}

int push(const ArchiveOptions& options) {
    const auto reply = link::push(options.file, archive_of(options));
    if (!reply) return say_refusal(reply.error());
    return print(options.common.json ? show::json_text(*reply) : show::pushed_text(*reply))
               ? done
               : failed;
}

int pull(const ArchiveOptions& options) {
    const auto reply = link::pull(options.day, archive_of(options), options.to);
    if (!reply) return say_refusal(reply.error());
    return print(options.common.json
                     ? show::json_text(*reply)
                     : fmt::format("{}: {} entries, head {}\n", options.to, reply->entries(),
                                   reply->head_hash().substr(0, 16)))
               ? done
               : failed;
}

int close(const ArchiveOptions& options) {
    const auto reply = link::archive_close(archive_of(options), options.day);
    if (!reply) return say_refusal(reply.error());
    return print(options.common.json
                     ? show::json_text(*reply)
                     : fmt::format("'{}' is closed: {} entries, head {}\n", reply->title(),
                                   reply->entries(), reply->head_hash().substr(0, 16)))
               ? done
               : failed;
}

int days(const ArchiveOptions& options) {
    link::ArchiveSpan span;
    if (!read_span(options, true, span)) return bad_input;
    return show(link::archive_days(archive_of(options), span), options, show::days_text,
                show::days_csv);
}

int near(const ArchiveOptions& options) {
    link::ArchiveSpan span;
    const auto channel = channel_argument("CHANNEL", options.near);
    if (!channel || !read_span(options, false, span)) return bad_input;
    return show(link::archive_near(archive_of(options), channel->mhz(), options.within_mhz, span,
                                   options.last),
                options, show::archive_near_text, show::archive_near_csv);
}

int flown(const ArchiveOptions& options) {
    link::ArchiveSpan span;
    if (!read_span(options, false, span)) return bad_input;
    return show(link::archive_flights(archive_of(options), options.who, span), options,
                show::archive_flights_text, show::archive_flights_csv);
}

int channels(const ArchiveOptions& options) {
    link::ArchiveSpan span;
    if (!read_span(options, false, span)) return bad_input;
    return show(link::archive_channels(archive_of(options), span), options,
                show::channels_used_text, show::channels_used_csv);
}

int say_forgotten(const Result<v1::ArchiveForgotten>& reply, const ArchiveOptions& options) {
    if (!reply) return say_refusal(reply.error());
    return print(options.common.json
                     ? show::json_text(*reply)
                     : fmt::format("{} names of {} days taken out; no later push brings "
                                   "them back\n",
                                   reply->names(), reply->days()))
               ? done
               : failed;
}

int forget(const ArchiveOptions& options) {
    return say_forgotten(link::archive_forget(archive_of(options), options.who, options.day),
                         options);
}

int expire(const ArchiveOptions& options) {
    if (options.keep == (options.years != 0))
        return say_bad_input("", "after how many years? --after YEARS, or --never");
    if (options.years > years_max)
        return say_bad_input("--after", fmt::format("from 1 to {} years", years_max));
    return say_forgotten(
        link::archive_expire(
            archive_of(options),
            options.keep ? std::nullopt : std::optional(static_cast<int>(options.years))),
        options);
}

void add_address(Verb& verb, const char* flag, const Shared& options) {
    verb.value(flag, options->archive,
               "its database; without it the one that FIELDPEG_ARCHIVE names")
        .type_name("postgresql://HOST/DATABASE");
}

void add_span(Verb& verb, const Shared& options, const char* otherwise) {
    verb.value("--from", options->from,
               fmt::format("from this day on, as 2026-09-19; {}", otherwise))
        .type_name("DATE");
    verb.value("--to", options->until, "up to this day; without it today").type_name("DATE");
    verb.value("--form", options->form, "table, or csv for a spreadsheet (times in local time)")
        .type_name("FORM")
        .one_of({"table", "csv"});
    add_json(verb, options->common);
}

void does(Verb& verb, const Shared& options, Run& run, int (*act)(const ArchiveOptions&)) {
    verb.callback([options, &run, act] { run = [options, act] { return act(*options); }; });
}

void add_questions(Verb& archive, Run& run) {
    {
        const auto options = std::make_shared<ArchiveOptions>();
        auto verb = archive.verb("days", "Which days are in it, the latest first");
        add_address(verb, "--at", options);
        add_span(verb, options, "without it all");
        does(verb, options, run, days);
    }
    {
        const auto options = std::make_shared<ArchiveOptions>();
        auto verb = archive.verb("near", "Who was near a frequency, and when");
        verb.value("CHANNEL", options->near, "R4, or 5800").required();
        verb.value("--within", options->within_mhz, "how far around, in MHz")
            .type_name("MHZ")
            .shows_default();
        verb.value("--last", options->last, "so many of the last times")
            .type_name("N")
            .within(1, 100'000)
            .shows_default();
        add_address(verb, "--at", options);
        add_span(verb, options, "without it the last year");
        does(verb, options, run, near);
    }
    {
        const auto options = std::make_shared<ArchiveOptions>();
        auto verb = archive.verb("flown", "Who flew, how often and for how many minutes");
        verb.value("NAME", options->who, "one of them, with each flight");
        add_address(verb, "--at", options);
        add_span(verb, options, "without it the last year");
        does(verb, options, run, flown);
    }
    {
        const auto options = std::make_shared<ArchiveOptions>();
        auto verb = archive.verb("channels", "How much each channel was used");
        add_address(verb, "--at", options);
        add_span(verb, options, "without it the last year");
        does(verb, options, run, channels);
    }
}

void add_close(Verb& archive, Run& run) {
    const auto options = std::make_shared<ArchiveOptions>();
    auto verb =
        archive.verb("close", "A day that servers held here has ended: it is an archived one now");
    verb.value("DAY", options->day, "by what 'archive days' calls it, or the name of its day file")
        .required();
    add_address(verb, "--at", options);
    add_json(verb, options->common);
    verb.footer("Its keys, tickets and answers go. Exit status 3: a server has it still.");
    does(verb, options, run, close);
}

void add_names(Verb& archive, Run& run) {
    {
        const auto options = std::make_shared<ArchiveOptions>();
        auto verb = archive.verb("forget", "Take somebody's name out");
        verb.value("NAME", options->who, "as it is written on the days; letters' case aside")
            .required();
        verb.value("--day", options->day, "of this day alone, by what 'archive days' calls it")
            .type_name("DAY");
        add_address(verb, "--at", options);
        add_json(verb, options->common);
        verb.footer(
            "The entries stay, and the chain holds: they have numbers in the place of names. Two\n"
            "people of one name are one to it. What is left outside its tables until the database\n"
            "is vacuumed, and in its backups: fieldpeg help archive.");
        does(verb, options, run, forget);
    }
    {
        const auto options = std::make_shared<ArchiveOptions>();
        auto verb = archive.verb("expire", "Let all names go after some years");
        verb.value("--after", options->years,
                   "of days that began longer ago; from now on with each push")
            .type_name("YEARS");
        verb.flag("--never", options->keep, "names are kept from now on");
        add_address(verb, "--at", options);
        add_json(verb, options->common);
        does(verb, options, run, expire);
    }
}

}  // namespace

void add_archive(Verb& program, Run& run) {
    auto archive =
        program.verb("archive", "Days of many fields and years: who flew when, and where");
    archive.needs_verb();
    archive.footer("Days come into it by 'fieldpeg log push'. The guide: fieldpeg help archive.");
    add_questions(archive, run);
    add_close(archive, run);
    add_names(archive, run);
}

void add_log_archived(Verb& log, Run& run) {
    {
        const auto options = std::make_shared<ArchiveOptions>();
        auto verb = log.verb("push", "A day's log into an archive");
        verb.value("FILE", options->file, "the log itself: saturday.daylog").required();
        add_address(verb, "--to", options);
        add_json(verb, options->common);
        verb.footer(
            "The log is held against itself first, and again in the archive. What is there "
            "already\n"
            "stays; a day that went on is continued. Keys, tickets and answers are never sent.\n"
            "Exit status 3: another course of this day is there, or a server holds it.\n"
            "Example:\n"
            "  fieldpeg log push saturday.daylog --to postgresql://club-server/club");
        does(verb, options, run, push);
    }
    {
        const auto options = std::make_shared<ArchiveOptions>();
        auto verb = log.verb("pull", "A day out of an archive, as a log of its own");
        verb.value("DAY", options->day, "by what 'archive days' calls it").required();
        verb.value("--to", options->to, "the new log; it may not be there yet")
            .type_name("NEW")
            .required();
        add_address(verb, "--from", options);
        add_json(verb, options->common);
        does(verb, options, run, pull);
    }
}

}  // namespace fieldpeg::verbs
