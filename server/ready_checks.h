#pragma once

#include "server/service/keeper.h"
#include "server/wire/ticket.h"

#include <string>

namespace fieldpeg {

/// What only the program itself can say before the day begins: address, page, certificate, disk,
/// version.
void add_ready_checks(const wire::Reach& reach, const std::string& fingerprint,
                      const service::DayFiles& files, v1::ReadyReply& reply);

}  // namespace fieldpeg
