#include "client/verbs/verb.h"

#include "client/link/in_process.h"
#include "client/link/memberships.h"
#include "client/link/remote.h"
#include "client/show/day.h"
#include "client/show/json.h"
#include "client/show/times.h"
#include "server/book/channels.h"
#include "server/book/library.h"
#include "server/day/words.h"

#include <fmt/format.h>

#include <cstdio>
#include <iostream>

namespace fieldpeg::verbs {

void add_day(Verb& verb, Common& common) {
    verb.value("--day", common.day,
               "a day file, with its log once that has begun; without it the server that was "
               "joined, else day.toml")
        .type_name("FILE");
    verb.flag("--as-written", common.as_written, "the day file alone, whatever its log says");
}

void add_course(Verb& verb, Common& common) {
    verb.value("--day", common.day,
               "a day file, and its log beside it; without it the server that was joined")
        .type_name("FILE");
    add_as(verb, common);
    add_json(verb, common);
}

void add_as(Verb& verb, Common& common) {
    verb.value("--as", common.as, "who speaks, if several joined from here").type_name("NAME");
}

void add_json(Verb& verb, Common& common) {
    verb.flag("--json", common.json, "print the reply as JSON");
}

void add_on_air(Verb& verb, bool& on_air) {
    verb.flag("--on-air", on_air, "count only what is on the air or the bench, not what is held");
}

void add_groups(Verb& verb, Groups& groups) {
    verb.value("--group", groups.only, "only as this flight group flies").type_name("N");
    verb.flag("--all", groups.all_at_once, "as if all flight groups flew at once");
}

void add_terms(Verb& verb, unsigned& terms) {
    verb.value("--terms", terms, "contributions a receiver")
        .type_name("N")
        .within(0, 1000)
        .shows_default();
}

namespace {

const std::string usual_day = "day.toml";

Opened joined(const std::string& as) {
    auto one = link::membership(as);
    if (!one) return {nullptr, say_refusal(one.error())};
    return {std::make_unique<link::Remote>(*std::move(one)), done};
}

bool has_joined() {
    const auto all = link::read_memberships();
    return all && !all->all().empty();
}

}  // namespace

Opened open(const Common& common) {
    if (common.day.empty() && (!common.as.empty() || has_joined())) return joined(common.as);
    const auto file = common.day.empty() ? std::string(usual_day) : common.day;
    if (!common.as_written && link::has_begun(file)) {
        auto begun = common;
        begun.day = file;
        return open_course(begun, Access::read);
    }
    book::Problems problems;
    auto link = link::open_day(file, problems);
    for (const auto& problem : problems) std::cerr << book::to_string(problem) << '\n';
    if (problems.size() > 1) std::cerr << "fieldpeg: nothing was done\n";
    return {std::move(link), bad_input};
}

Opened open_course(const Common& common, Access access, Otherwise otherwise) {
    if (common.day.empty()) return joined(common.as);
    std::vector<std::string> differences;
    auto link = link::open_log(
        common.day, access == Access::read ? log::DayLog::Access::read : log::DayLog::Access::write,
        common.as, differences);
    if (otherwise == Otherwise::said) {
        for (const auto& text : differences)
            std::cerr << "fieldpeg: " << text << "; the log is what counts\n";
        if (!differences.empty())
            std::cerr << fmt::format("  to take it over: fieldpeg day take {}\n", common.day);
    }
    if (link) return {*std::move(link), done};
    return {nullptr, say_refusal(link.error())};
}

Sent send(const Common& common, const v1::Command& command) {
    const auto opened = open_course(common, Access::write);
    if (!opened.link) return {{}, opened.status, 0};
    return send(*opened.link, command, common.json);
}

Sent send(link::Link& link, const v1::Command& command, bool json) {
    Sent sent{link.send(command), done, 0};
    sent.now_ms = link.now_ms();
    if (!sent.reply.has_refusal()) return sent;
    if (json) print(show::json_text(sent.reply));
    sent.status = say_refusal(sent.reply.refusal());
    return sent;
}

int print_sent(const v1::Reply& reply, std::int64_t now_ms, bool json) {
    if (!reply.has_refusal())
        return print_reply(reply, json, show::reply_text(reply, now_ms, show::look_of_stdout()));
    if (json) print(show::json_text(reply));
    return say_refusal(reply.refusal());
}

int print_reply(const v1::Reply& reply, bool json, const std::string& text) {
    if (!print(json ? show::json_text(reply) : text)) return failed;
    for (const auto& sentence : reply.call_out()) std::cerr << "call out: " << sentence << '\n';
    if (reply.claim().has_refusal()) return say_refusal(reply.claim().refusal());
    if (reply.switched().has_refusal()) {
        const int status = say_refusal(reply.switched().refusal());
        if (reply.switched().answer() == v1::SwitchReply::wait)
            std::cerr << "  to be called when it is free: --when-free\n";
        return status;
    }
    if (reply.switched().answer() == v1::SwitchReply::in_line) return refused;
    if (reply.assigned().has_refusal()) return say_refusal(reply.assigned().refusal());
    if (reply.take().has_refusal()) return say_refusal(reply.take().refusal());
    return done;
}

int tell_and_print(const Common& common, const v1::Command& command) {
    const auto opened = open_course(common, Access::write);
    return opened.link ? tell_and_print(*opened.link, command, common.json) : opened.status;
}

int tell_and_print(link::Link& link, const v1::Command& command, bool json) {
    const auto reply = link.send(command);
    return print_sent(reply, link.now_ms(), json);
}

std::optional<v1::BoardReply> print_board(const Common& common, BoardText text, int& status) {
    const auto opened = open_course(common, Access::read);
    status = opened.status;
    if (!opened.link) return std::nullopt;
    v1::Query query;
    query.mutable_board();
    auto answer = opened.link->ask(query);
    if (answer.has_refusal()) {
        status = say_refusal(answer.refusal());
        return std::nullopt;
    }
    auto& board = *answer.mutable_board();
    if (print(common.json ? show::json_text(board)
                          : text(board, opened.link->now_ms(), show::look_of_stdout())))
        return std::move(board);
    status = failed;
    return std::nullopt;
}

namespace {

v1::Answer board_at(std::uint64_t version, link::Link& link) {
    v1::Query board;
    board.mutable_board();
    if (version != 0) board.mutable_moment()->set_version(version);
    return link.ask(board);
}

}  // namespace

std::optional<v1::Moment> moment_argument(std::string_view flag, const std::string& written,
                                          link::Link& link, int& status) {
    const auto last = board_at(0, link);
    if (last.has_refusal()) {
        status = say_refusal(last.refusal());
        return std::nullopt;
    }
    const auto last_ms = last.board().at_ms();
    auto first_ms = last_ms;
    if (show::has_no_date(written))
        if (const auto first = board_at(1, link); !first.has_refusal())
            first_ms = first.board().at_ms();
    const auto moment = show::read_moment(written, first_ms, last_ms);
    if (!moment) {
        status = say_refusal(in(flag, moment.error()));
        return std::nullopt;
    }
    if (show::date_text(first_ms) != show::date_text(last_ms))
        std::cerr << fmt::format("fieldpeg: {} {} is taken as {} {}\n", flag, written,
                                 show::date_text(moment->at_ms()), written);
    return *moment;
}

bool print(std::string_view text) {
    std::fwrite(text.data(), 1, text.size(), stdout);
    if (!text.empty() && text.back() != '\n') std::fputc('\n', stdout);
    if (std::fflush(stdout) == 0 && !std::ferror(stdout)) return true;
    std::cerr << "fieldpeg: the answer could not be written to standard output\n";
    return false;
}

int say_bad_input(std::string_view where, std::string_view why) {
    std::cerr << fmt::format("fieldpeg: {}{}{}\n", where, where.empty() ? "" : ": ", why);
    return bad_input;
}

int say_refusal(const v1::Refusal& refusal) {
    say_bad_input(refusal.where(), refusal.why());
    if (!refusal.next().empty()) std::cerr << "  " << refusal.next() << '\n';
    switch (refusal.kind()) {
        case v1::Refusal::no_answer:
            return no_answer;
        case v1::Refusal::unavailable:
            return failed;
        case v1::Refusal::conflict:
        case v1::Refusal::not_permitted:
            return refused;
        default:
            return bad_input;
    }
}

int say_refusal(const Refusal& refusal) {
    return say_refusal(day::message(refusal));
}

std::optional<v1::Channel> channel_argument(std::string_view flag, const std::string& written) {
    std::string why;
    auto channel = book::ChannelNames(book::library().rows()).read(written, why);
    if (!channel) say_bad_input(flag, why);
    return channel;
}

std::optional<double> power_argument(std::string_view flag, const std::string& written) {
    std::string why;
    const auto power = book::read_power_dbm(written, why);
    if (!power) say_bad_input(flag, why);
    return power;
}

}  // namespace fieldpeg::verbs
