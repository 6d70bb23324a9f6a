#pragma once

#include "server/service/keeper.h"
#include "server/wire/ticket.h"

#include <cstdint>

namespace fieldpeg {

/// For a day of which a stranger may have the secrets: another certificate, three new tickets, no
/// key good any more, in one, or nothing of it. The log decides which: what is in it has happened.
Result<void> renew_secrets(service::Keeper& keeper, const service::DayFiles& files,
                           const wire::Reach& reach, std::int64_t now_ms);

/// What a renewal left that was killed: its files take their places if the log has it, or go.
Result<void> settle_renewal(const service::Keeper& keeper, const service::DayFiles& files);

}  // namespace fieldpeg
