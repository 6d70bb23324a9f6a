#pragma once

#include "server/log/day_log.h"
#include "server/wire/ticket.h"

#include <boost/asio/ip/tcp.hpp>

#include <memory>
#include <string>

namespace fieldpeg {

/// Waits beside the server that has a day in a database, and tells clients where that is, until the
/// day is ours. Null: told to stop before. Refuses where the database cannot be used at all.
/// Clients are listened to once there is an identity: of a day that has not begun, whoever begins
/// it makes that.
Result<std::unique_ptr<log::DayLog>> follow(const std::string& place, const wire::Reach& reach,
                                            const boost::asio::ip::tcp::endpoint& listen,
                                            const std::string& identity);

}  // namespace fieldpeg
