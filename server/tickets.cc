#include "server/tickets.h"

#include "server/wire/private_file.h"

#include <fmt/format.h>

#include <unistd.h>
#include <iostream>
#include <utility>

namespace fieldpeg {
namespace {

void show(const char* title, const v1::TicketReply& ticket, bool as_code) {
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

Result<void> give_tickets(service::Keeper& keeper, const service::DayFiles& files,
                          std::int64_t now_ms) {
    if (keeper.has_tickets()) {
        std::cerr << "fieldpegd: tickets are in " << files.tickets
                  << "; 'fieldpeg ticket' makes new ones\n";
        return {};
    }
    std::string text;
    for (const auto& [role, title] :
         {std::pair(v1::Role::marshal, "marshal"), std::pair(v1::Role::pilot, "pilot"),
          std::pair(v1::Role::onlooker, "onlooker")}) {
        service::Ask ask;
        ask.command.mutable_renew_ticket()->set_role(role);
        const auto reply = keeper.take(ask, now_ms);
        if (reply.has_refusal())
            return Refusal{Refusal::Kind::unavailable, reply.refusal().where(),
                           reply.refusal().why(), ""};
        text += fmt::format("# {}\n{}\n", title, reply.ticket().ticket());
        if (::isatty(STDERR_FILENO) == 1) show(title, reply.ticket(), role == v1::Role::pilot);
    }
    const auto written = wire::write_private(files.tickets, text, wire::Existing::goes);
    if (!written) return written.error();
    std::cerr << "fieldpegd: tickets are in " << files.tickets << '\n';
    return {};
}

}  // namespace fieldpeg
