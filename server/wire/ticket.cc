#include "server/wire/ticket.h"

#include "server/service/secret.h"
#include "server/wire/authority.h"

#include <fmt/format.h>
#include <qrencode.h>
#include <boost/url/encode.hpp>
#include <boost/url/rfc/unreserved_chars.hpp>

#include <cctype>
#include <memory>

namespace fieldpeg::wire {
namespace {

constexpr std::string_view scheme = "fieldpeg:";
constexpr std::string_view alphabet = "abcdefghijklmnopqrstuvwxyz234567";  // [RFC4648, section 6]

Refusal wrong(const char* where, std::string why) {
    return {Refusal::Kind::malformed, where, std::move(why),
            "copy the whole ticket: fieldpeg:HOST:PORT/..."};
}

std::string_view trimmed(std::string_view text) {
    const auto is_space = [](char c) { return std::isspace(static_cast<unsigned char>(c)) != 0; };
    while (!text.empty() && is_space(text.front())) text.remove_prefix(1);
    while (!text.empty() && is_space(text.back())) text.remove_suffix(1);
    return text;
}

bool same_letters(std::string_view a, std::string_view b) {
    if (a.size() != b.size()) return false;
    for (std::size_t i = 0; i < a.size(); ++i)
        if (std::tolower(static_cast<unsigned char>(a[i])) != b[i]) return false;
    return true;
}

}  // namespace

std::string base32(std::string_view bytes) {
    std::string text;
    std::uint32_t held = 0;
    int bits = 0;
    for (const char c : bytes) {
        held = (held << 8) | static_cast<unsigned char>(c);
        for (bits += 8; bits >= 5; bits -= 5) text += alphabet[(held >> (bits - 5)) & 31];
    }
    if (bits > 0) text += alphabet[(held << (5 - bits)) & 31];
    return text;
}

Result<std::string> from_base32(std::string_view text) {
    std::string bytes;
    std::uint32_t held = 0;
    int bits = 0;
    for (const char c : text) {
        const auto at =
            alphabet.find(static_cast<char>(std::tolower(static_cast<unsigned char>(c))));
        if (at == std::string_view::npos)
            return wrong("ticket", "has a letter that does not belong there");
        held = (held << 5) | static_cast<std::uint32_t>(at);
        bits += 5;
        if (bits < 8) continue;
        bits -= 8;
        bytes += static_cast<char>((held >> bits) & 0xff);
    }
    // A letter too many, or bits that no byte has: nothing is read in two ways.
    if (bits >= 5 || (held & ((1U << bits) - 1)) != 0)
        return wrong("ticket", "has a wrong letter at its end");
    return bytes;
}

std::string ticket_text(const Ticket& ticket) {
    return fmt::format("{}{}/{}/{}", scheme, authority(ticket.host, ticket.port),
                       base32(ticket.fingerprint), base32(ticket.secret));
}

Result<Ticket> read_ticket(std::string_view text) {
    text = trimmed(text);
    if (text.size() > ticket_length_max) return wrong("ticket", "is too long");
    if (!same_letters(text.substr(0, scheme.size()), scheme))
        return wrong("ticket", "does not begin with 'fieldpeg:'");
    text.remove_prefix(scheme.size());
    const auto first = text.find('/');
    const auto second = first == std::string_view::npos ? first : text.find('/', first + 1);
    if (second == std::string_view::npos) return wrong("ticket", "is cut short");
    const auto address = read_authority(text.substr(0, first));
    if (!address || address->port.value_or(0) == 0)
        return wrong("ticket", "has no address with a port");
    const auto fingerprint = from_base32(text.substr(first + 1, second - first - 1));
    if (!fingerprint) return fingerprint.error();
    if (fingerprint->size() != fingerprint_bytes)
        return wrong("ticket", "has a fingerprint of the wrong length");
    const auto secret = from_base32(text.substr(second + 1));
    if (!secret) return secret.error();
    if (secret->size() != service::secret_bytes)
        return wrong("ticket", "is cut short or has something behind it");
    return Ticket{address->host, *address->port, *fingerprint, *secret};
}

std::string phone_url(const Ticket& ticket, std::string_view pilot) {
    const auto name = boost::urls::encode(pilot, boost::urls::unreserved_chars);
    return fmt::format("https://{}/join#{}{}{}", authority(ticket.host, ticket.port),
                       base32(ticket.secret), name.empty() ? "" : "/", name);
}

std::string hello_url(std::string_view host, std::uint16_t port) {
    return fmt::format("http://{}/hello", authority(host, port));
}

std::vector<std::string> qr_rows(std::string_view text) {
    const std::string copy(text);
    const std::unique_ptr<QRcode, decltype(&QRcode_free)> code(
        QRcode_encodeString8bit(copy.c_str(), 0, QR_ECLEVEL_L), &QRcode_free);
    if (!code) return {};
    const auto width = static_cast<std::size_t>(code->width);
    std::vector<std::string> rows(width, std::string(width, '0'));
    for (std::size_t i = 0; i < width * width; ++i)
        if ((code->data[i] & 1) != 0) rows[i / width][i % width] = '1';
    return rows;
}

std::string qr_text(std::string_view text) {
    const auto rows = qr_rows(text);
    if (rows.empty()) return "";
    constexpr int quiet = 4;  // modules around it [ISO.18004, quiet zone]
    const int width = static_cast<int>(rows.size());
    const auto is_dark = [&](int row, int column) {
        if (row < 0 || column < 0 || row >= width || column >= width) return false;
        return rows[static_cast<std::size_t>(row)][static_cast<std::size_t>(column)] == '1';
    };
    std::string drawn;
    for (int row = -quiet; row < width + quiet; row += 2) {
        for (int column = -quiet; column < width + quiet; ++column) {
            // Light is drawn, so that it reads on a dark terminal; scanners take either.
            const bool upper = !is_dark(row, column);
            const bool lower = !is_dark(row + 1, column);
            drawn += upper && lower ? "\u2588" : upper ? "\u2580" : lower ? "\u2584" : " ";
        }
        drawn += '\n';
    }
    return drawn;
}

}  // namespace fieldpeg::wire
