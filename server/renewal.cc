#include "server/renewal.h"

#include "server/service/private_file.h"
#include "server/tickets.h"
#include "server/wire/identity.h"

#include <filesystem>
#include <fstream>
#include <iostream>
#include <string>
#include <vector>

namespace fieldpeg {
namespace {

/// Where files wait until the log says that they are good.
std::string next(const std::string& file) {
    return file + ".next";
}

bool is_there(const std::string& file) {
    std::error_code none;
    return std::filesystem::exists(file, none);
}

/// With what one left that was killed while it wrote them (service::write_private).
void drop(const service::DayFiles& files) {
    std::error_code none;
    for (const auto& file : {files.identity, files.tickets})
        for (const auto* left : {"", ".new"}) std::filesystem::remove(next(file) + left, none);
}

/// The tickets last: they tell whether it has happened.
Result<void> put_in_place(const service::DayFiles& files) {
    for (const auto& file : {files.identity, files.tickets})
        if (is_there(next(file)))
            if (auto moved = service::move_private(next(file), file); !moved) return moved;
    return {};
}

bool has_happened(const service::Keeper& keeper, const service::DayFiles& files) {
    std::ifstream in(next(files.tickets));
    for (std::string line; std::getline(in, line);)
        if (const auto ticket = wire::read_ticket(line))
            if (keeper.ticket_of(ticket->secret)) return true;
    return false;
}

}  // namespace

Result<void> settle_renewal(const service::Keeper& keeper, const service::DayFiles& files) {
    if (has_happened(keeper, files))
        if (auto placed = put_in_place(files); !placed) return placed;
    drop(files);
    return {};
}

Result<void> renew_secrets(service::Keeper& keeper, const service::DayFiles& files,
                           const wire::Reach& reach, std::int64_t now_ms) {
    if (!keeper.has_begun())
        return Refusal{Refusal::Kind::conflict, files.log,
                       "has not begun: there is nothing to renew",
                       "start it: its first start makes a certificate and tickets"};
    const auto identity = wire::new_identity_at(next(files.identity));
    if (!identity) return identity.error();
    keeper.write_ticket = [&](const std::string& secret, v1::TicketReply& ticket) {
        write_ticket(reach, identity->fingerprint, secret, ticket);
    };
    std::vector<v1::TicketReply> given;
    auto renewed = keeper.renew_secrets(now_ms, [&](const auto& tickets) {
        given = tickets;
        return service::write_private(next(files.tickets), tickets_text(tickets),
                                      service::Existing::goes);
    });
    if (!renewed) {
        drop(files);
        return renewed;
    }
    if (auto placed = put_in_place(files); !placed) return placed;
    show_tickets(given);
    std::cerr << "fieldpegd: another certificate is in " << files.identity << ", new tickets in "
              << files.tickets
              << "\nfieldpegd: no key and no other ticket is good any more; who had joined joins "
                 "again; what they held stays\n";
    return {};
}

}  // namespace fieldpeg
