#include "client/link/memberships.h"
#include "client/link/remote.h"
#include "client/verbs/parts.h"
#include "client/verbs/verb.h"
#include "server/wire/authority.h"
#include "server/wire/ticket.h"

#include <fmt/format.h>

#include <unistd.h>
#include <cstdio>
#include <iostream>
#include <sstream>

namespace fieldpeg::verbs {
namespace {

struct JoinOptions {
    std::string name;
    std::string file;
    bool list = false;
    bool leave = false;
};

/// The ticket, never from the command line: others may read that. Of a file the first line that
/// does not begin with #.
std::optional<std::string> ticket_text(const JoinOptions& options) {
    if (!options.file.empty()) {
        const auto text = read_text(options.file);
        if (!text) return std::nullopt;
        std::istringstream lines(*text);
        std::string line;
        while (std::getline(lines, line) && line.starts_with('#')) {
        }
        return line;
    }
    if (::isatty(STDIN_FILENO) == 1)
        std::cerr << "Ticket (or give it with --ticket FILE): " << std::flush;
    std::string line;
    std::getline(std::cin, line);
    return line;
}

int join(const JoinOptions& options) {
    const auto text = ticket_text(options);
    if (!text) return bad_input;
    const auto ticket = wire::read_ticket(*text);
    if (!ticket) return say_refusal(ticket.error());
    // A file of keys that cannot be used must be known before a key is made.
    if (const auto before = link::read_memberships(); !before) return say_refusal(before.error());
    const auto joined = link::join(*ticket, options.name);
    if (!joined) return say_refusal(joined.error());
    if (const auto kept = link::keep_membership(*joined); !kept) return say_refusal(kept.error());
    print(fmt::format("Joined '{}' as {} ({}).", joined->day(), joined->name(),
                      v1::Role::Kind_Name(joined->role())));
    if (joined->awaits_nod())
        print(fmt::format(
            "{} is known here, or looks like a name that is: the marshal must still say "
            "that it is you ('fieldpeg pilot nod').",
            joined->name()));
    return done;
}

int list() {
    const auto all = link::read_memberships();
    if (!all) return say_refusal(all.error());
    for (const auto& one : all->all())
        print(fmt::format("{}, {} of '{}' at {}", one.name(), v1::Role::Kind_Name(one.role()),
                          one.day(),
                          wire::authority(one.host(), static_cast<std::uint16_t>(one.port()))));
    if (all->all().empty()) print("No server has been joined from here.");
    return done;
}

int leave(const JoinOptions& options) {
    const auto one = link::membership(options.name);
    if (!one) return say_refusal(one.error());
    auto all = link::read_memberships();
    if (!all) return say_refusal(all.error());
    v1::Memberships kept;
    for (const auto& other : all->all())
        if (other.key() != one->key()) *kept.add_all() = other;
    if (const auto written = link::write_memberships(kept); !written)
        return say_refusal(written.error());
    print(fmt::format("The key of {} for '{}' is no longer kept here. The marshal can withdraw it.",
                      one->name(), one->day()));
    return done;
}

}  // namespace

void add_join(Verb& program, Run& run) {
    const auto options = std::make_shared<JoinOptions>();
    auto verb = program.verb("join", "Join a server with a ticket");
    verb.value("NAME", options->name, "what you are called on the field");
    verb.value("--ticket", options->file,
               "a file with the ticket, - for standard input; default: a prompt")
        .type_name("FILE");
    verb.flag("--list", options->list, "the servers joined from here");
    verb.flag("--leave", options->leave, "forget the key of NAME");
    verb.footer(
        "The ticket is on the marshal's screen, as text and as a QR code. It is read from a prompt "
        "or a\n"
        "file, never from the command line. The key that is made here is kept under "
        "XDG_CONFIG_HOME.\n"
        "Examples:\n"
        "  fieldpeg join Ann\n"
        "  fieldpeg join Ann --ticket ticket.txt");
    verb.callback([options, &run] {
        run = [options] {
            if (options->list) return list();
            if (options->leave) return leave(*options);
            if (options->name.empty())
                return say_bad_input("join", "who are you? fieldpeg join NAME");
            return join(*options);
        };
    });
}

}  // namespace fieldpeg::verbs
