#include "server/wire/ticket.h"
#include "client/show/json.h"
#include "client/verbs/verb.h"
#include "server/wire/private_file.h"

#include <fmt/format.h>

#include <unistd.h>

namespace fieldpeg::verbs {
namespace {

struct Options {
    Common common;
    std::string role = "pilot", pilot, file;
};

int ticket(const Options& options) {
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
    const auto sent = send(options.common, command);
    if (sent.status != done) return sent.status;
    const auto text = sent.reply.ticket().ticket();
    if (!options.file.empty()) {
        const auto written = wire::write_private(options.file, text + "\n", wire::Existing::stays);
        if (!written) return say_refusal(written.error());
        print(fmt::format("The ticket is in {}.", options.file));
        return done;
    }
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
    const auto options = std::make_shared<Options>();
    auto verb = program.verb(
        "ticket", "A new ticket, as text and as QR code for phones; the old one is no longer good");
    verb.value("ROLE", options->role, "marshal, pilot or onlooker")
        .one_of({"marshal", "pilot", "onlooker"})
        .shows_default();
    verb.value("--pilot", options->pilot, "one listed pilot's own ticket: no nod is needed")
        .type_name("NAME");
    verb.value("--file", options->file, "into a new file that only you read").type_name("FILE");
    add_course(verb, options->common);
    verb.footer(
        "Keys of those who have joined stay good: 'fieldpeg pilot withdraw' takes one back.\n"
        "Examples:\n"
        "  fieldpeg ticket pilot\n"
        "  fieldpeg ticket --pilot Ann --file ann.ticket");
    verb.callback([options, &run] { run = [options] { return ticket(*options); }; });
}

}  // namespace fieldpeg::verbs
