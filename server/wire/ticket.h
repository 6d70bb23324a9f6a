#pragma once

#include "server/refusal/refusal.h"

#include <cstddef>
#include <cstdint>
#include <string>
#include <string_view>
#include <vector>

namespace fieldpeg::wire {

inline constexpr std::size_t fingerprint_bytes = 32;   ///< SHA-256
inline constexpr std::size_t ticket_length_max = 400;  ///< of its text

/// How others reach a server.
struct Reach {
    std::string host;  ///< address or name
    std::uint16_t port;
    std::uint16_t board_port;  ///< 0: no page is served
};

/// What lets somebody join: where the server is, by what it is known, and a secret.
struct Ticket {
    std::string host;  ///< address or name
    std::uint16_t port = 0;
    std::string fingerprint;  ///< SHA-256 of the server's certificate, 32 bytes
    std::string secret;       ///< 16 bytes
};

/// "fieldpeg:HOST:PORT/FINGERPRINT/SECRET", the last two in base 32: letters and digits only, so
/// that it can be read aloud, typed in either case, and drawn as a QR code.
std::string ticket_text(const Ticket& ticket);
/// Refuses what is no ticket, and says what part of it is wrong. Spaces around it are nothing.
Result<Ticket> read_ticket(std::string_view text);

/// RFC 4648 base 32 without padding, lower case written, either read.
std::string base32(std::string_view bytes);
Result<std::string> from_base32(std::string_view text);

/// "https://HOST:PORT/join#SECRET", with "/NAME" behind it where the ticket is one pilot's own:
/// what a phone's browser opens. What stands behind # is never sent [RFC3986, 3.5]: the page hands
/// it over.
std::string phone_url(const Ticket& ticket, std::string_view pilot);

/// "http://HOST:PORT/hello": where whoever scans the code on a screen begins, before they are shown
/// what their browser will say of the certificate. No secret is in it.
std::string hello_url(std::string_view host, std::uint16_t port);

/// A text as a QR code: '1' for each dark module, a string a row; empty if it is too long for one.
std::vector<std::string> qr_rows(std::string_view text);

/// The same as text of half blocks, two rows of it a line of text; dark on light with a quiet
/// zone around.
std::string qr_text(std::string_view text);

}  // namespace fieldpeg::wire
