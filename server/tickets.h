#pragma once

#include "server/service/keeper.h"
#include "server/wire/ticket.h"

#include <cstdint>
#include <string>

namespace fieldpeg {

/// A ticket for this server that carries a secret: as text, and as what a phone's camera opens.
void write_ticket(const wire::Reach& reach, const std::string& fingerprint,
                  const std::string& secret, v1::TicketReply& ticket);

/// The tickets of the three roles, made when the day has none, kept in a file that only its owner
/// reads, and shown only to a terminal.
Result<void> give_tickets(service::Keeper& keeper, const service::DayFiles& files,
                          std::int64_t now_ms);

}  // namespace fieldpeg
