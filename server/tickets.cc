#include "server/tickets.h"

#include "server/service/private_file.h"

#include <fmt/format.h>
#include <fmt/ranges.h>

#include <unistd.h>
#include <fstream>
#include <iostream>
#include <utility>

namespace fieldpeg {
namespace {

void show(const std::string& title, const v1::TicketReply& ticket, bool as_code) {
    std::cerr << fmt::format("\n{} ticket:\n  {}\n", title, ticket.ticket());
    if (ticket.phone_url().empty()) return;
    std::cerr << "  " << ticket.phone_url() << '\n';
    if (as_code) std::cerr << wire::qr_text(ticket.phone_url());
}

}  // namespace

void write_ticket(const wire::Reach& reach, const std::string& fingerprint,
                  const std::string& secret, v1::TicketReply& ticket) {
    ticket.set_ticket(wire::ticket_text({reach.host, reach.port, fingerprint, secret}));
    if (reach.board_port == 0) return;
    ticket.set_phone_url(
        wire::phone_url({reach.host, reach.board_port, "", secret}, ticket.pilot()));
    for (auto& row : wire::qr_rows(ticket.phone_url())) ticket.add_phone_qr(std::move(row));
}

std::string tickets_text(const std::vector<v1::TicketReply>& tickets) {
    std::string text;
    for (const auto& ticket : tickets)
        text += fmt::format("# {}\n{}\n", v1::Role::Kind_Name(ticket.role()), ticket.ticket());
    return text;
}

void show_tickets(const std::vector<v1::TicketReply>& tickets) {
    if (::isatty(STDERR_FILENO) != 1) return;
    for (const auto& ticket : tickets)
        show(v1::Role::Kind_Name(ticket.role()), ticket, ticket.role() == v1::Role::pilot);
}

std::vector<std::string> good_tickets(const service::Keeper& keeper, const std::string& file,
                                      const std::string& fingerprint) {
    std::vector<std::string> good;
    std::ifstream in(file);
    for (std::string line; std::getline(in, line);) {
        const auto ticket = wire::read_ticket(line);
        if (!ticket || ticket->fingerprint != fingerprint) continue;
        if (const auto known = keeper.ticket_of(ticket->secret))
            good.push_back(v1::Role::Kind_Name(static_cast<v1::Role::Kind>(known->role)));
    }
    return good;
}

Result<void> give_tickets(service::Keeper& keeper, const service::DayFiles& files,
                          const std::string& fingerprint) {
    if (keeper.has_tickets()) {
        const auto good = good_tickets(keeper, files.tickets, fingerprint);
        std::cerr << (good.size() >= 3
                          ? fmt::format("fieldpegd: tickets are in {}; 'fieldpeg ticket' makes new "
                                        "ones\n",
                                        files.tickets)
                          : fmt::format(
                                "fieldpegd: good tickets in {}: {}; 'fieldpeg ticket' makes "
                                "new ones\n",
                                files.tickets,
                                good.empty() ? "none" : fmt::to_string(fmt::join(good, ", "))));
        return {};
    }
    std::vector<v1::TicketReply> given;
    auto begun = keeper.give_tickets([&](const auto& tickets) {
        given = tickets;
        return service::write_private(files.tickets, tickets_text(tickets),
                                      service::Existing::goes);
    });
    if (!begun) return begun;
    show_tickets(given);
    std::cerr << "fieldpegd: tickets are in " << files.tickets << '\n';
    return {};
}

}  // namespace fieldpeg
