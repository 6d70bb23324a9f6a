#pragma once

#include "server/wire/listener.h"
#include "server/wire/ticket.h"

#include <boost/asio/ssl/context.hpp>

#include <functional>
#include <string>

namespace fieldpeg::wire {

/// Where a server is found, as servers tell of each other: "HOST:PORT", and "/PORT" of its page
/// behind it where there is one.
std::string elsewhere_text(const Reach& reach);

/// Of a server that waits to take a day over: whoever comes is told where the day is answered, as
/// far as `holder` knows (else it is empty), and to ask again.
Attend tell_elsewhere(asio::ssl::context& tls, std::function<std::string()> holder);

}  // namespace fieldpeg::wire
