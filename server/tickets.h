#pragma once

#include "server/service/keeper.h"
#include "server/wire/ticket.h"

#include <string>
#include <vector>

namespace fieldpeg {

/// A ticket for this server that carries a secret: as text, and as what a phone's camera opens.
void write_ticket(const wire::Reach& reach, const std::string& fingerprint,
                  const std::string& secret, v1::TicketReply& ticket);

/// The three tickets as their file has them, each under the name of its role.
std::string tickets_text(const std::vector<v1::TicketReply>& tickets);
/// The same for the screen, if it is one.
void show_tickets(const std::vector<v1::TicketReply>& tickets);

/// The tickets of the three roles, made when the day has none, kept in a file that only its owner
/// reads, and shown only to a terminal. A day that has tickets is told which of that file are good.
Result<void> give_tickets(service::Keeper& keeper, const service::DayFiles& files,
                          const std::string& fingerprint);

/// The tickets of a file that this day lets in, each as the name of its role.
std::vector<std::string> good_tickets(const service::Keeper& keeper, const std::string& file,
                                      const std::string& fingerprint);

}  // namespace fieldpeg
