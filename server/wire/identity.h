#pragma once

#include "server/refusal/refusal.h"

#include <boost/asio/ssl/context.hpp>

#include <string>

namespace fieldpeg::wire {

/// By what a server is known: its own certificate (self-made, P-256) and key.
struct Identity {
    std::string certificate_pem;
    std::string key_pem;
    std::string fingerprint;  ///< SHA-256 of the certificate, 32 bytes
};

/// Reads an identity from a file, or makes one and writes it there with mode 0600. Refuses a file
/// that is none, or that others may read.
Result<Identity> identity_at(const std::string& path);

/// Makes another and writes it there, in the place of what may be there.
Result<Identity> new_identity_at(const std::string& path);

/// TLS 1.3 and nothing below it.
boost::asio::ssl::context server_context(const Identity& identity);
boost::asio::ssl::context client_context();

/// The fingerprint of the certificate that the other end showed; empty if it showed none.
std::string peer_fingerprint(SSL* connection);

}  // namespace fieldpeg::wire
