#include "server/wire/ticket.h"

#include "client/link/in_process.h"
#include "client/verbs/files.h"
#include "client/verbs/verb.h"

#include <fmt/format.h>

#include <unistd.h>
#include <string>
#include <utility>
#include <vector>

namespace fieldpeg::verbs {
namespace {

struct TicketOptions {
    Common common;
    std::string role = "pilot", pilot, file, host;
};

constexpr mode_t mode_of_secrets = 0600;

/// The server that was joined; with --day, the day itself, once it is known how its server is
/// reached. A refusal leaves everything as it was.
Opened opened(const TicketOptions& options) {
    if (options.common.day.empty()) {
        if (options.host.empty()) return open_course(options.common, Access::write);
        return {nullptr, say_bad_input("--host", "goes with --day: a server knows its address")};
    }
    auto writer = link::ticket_writer(options.common.day, options.host);
    if (!writer) return {nullptr, say_refusal(writer.error())};
    std::vector<std::string> differences;  // nothing to tickets
    auto link = link::open_log(options.common.day, log::DayLog::Access::write, options.common.as,
                               differences, *std::move(writer));
    if (link) return {*std::move(link), done};
    return {nullptr, say_refusal(link.error())};
}

/// The file is there before the old ticket is no longer good.
int put_into_file(const TicketOptions& options, link::Link& link, const v1::Command& command) {
    auto file = NewFile::make(options.file, mode_of_secrets, wire::ticket_length_max + 1);
    if (!file) return say_refusal(file.error());
    const auto sent = send(link, command, false);
    if (sent.status != done) return sent.status;
    if (const auto filled = file->fill(sent.reply.ticket().ticket() + "\n"); !filled) {
        say_refusal(filled.error());
        return say_bad_input(options.file, "the ticket was renewed all the same: make another");
    }
    print(fmt::format("The ticket is in {}.", options.file));
    return done;
}

int ticket(const TicketOptions& options) {
    if (options.file.empty() && ::isatty(STDOUT_FILENO) != 1)
        return say_bad_input("ticket",
                             "a ticket is a secret: it goes to a terminal or, with --file, to a "
                             "file that only you read");
    v1::Command command;
    auto& ask = *command.mutable_renew_ticket();
    v1::Role::Kind role = v1::Role::unknown;
    v1::Role::Kind_Parse(options.role, &role);
    ask.set_role(role);
    ask.set_pilot(options.pilot);
    const auto [link, status] = opened(options);
    if (!link) return status;
    if (!options.file.empty()) return put_into_file(options, *link, command);
    const auto sent = send(*link, command, false);
    if (sent.status != done) return sent.status;
    const auto& text = sent.reply.ticket().ticket();
    const auto& url = sent.reply.ticket().phone_url();
    return print(url.empty()
                     ? text
                     : fmt::format("{}\n\nFor a phone, the same; it will say that it does not know "
                                   "the certificate, which is expected.\n{}\n{}",
                                   text, url, wire::qr_text(url)))
               ? done
               : failed;
}

}  // namespace

void add_ticket(Verb& program, Run& run) {
    const auto options = std::make_shared<TicketOptions>();
    auto verb = program.verb(
        "ticket", "A new ticket, as text and as QR code for phones; the old one is no longer good");
    verb.value("ROLE", options->role, "marshal, pilot or onlooker")
        .one_of({"marshal", "pilot", "onlooker"})
        .shows_default();
    verb.value("--pilot", options->pilot, "one listed pilot's own ticket: no nod is needed")
        .type_name("NAME");
    verb.value("--file", options->file, "into a new file that only you read").type_name("FILE");
    verb.value("--host", options->host,
               "with --day: how others reach the server; default: as in the tickets of its first "
               "start")
        .type_name("ADDRESS:PORT");
    add_course(verb, options->common);
    verb.footer(
        "Keys of those who have joined stay good: 'fieldpeg pilot withdraw' takes one back.\n"
        "Examples:\n"
        "  fieldpeg ticket pilot\n"
        "  fieldpeg ticket --pilot Ann --file ann.ticket\n"
        "  fieldpeg ticket marshal --day saturday.toml --file new.ticket   # the server stopped: "
        "the "
        "old one is lost");
    verb.callback([options, &run] { run = [options] { return ticket(*options); }; });
}

}  // namespace fieldpeg::verbs
