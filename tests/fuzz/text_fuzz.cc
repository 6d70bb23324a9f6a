// Every short text that is read: tickets, addresses, notices, names, channels, powers, moments,
// sweeps, what a client keeps. What is read can be written and read again, and is the same.

#include "client/show/times.h"
#include "fieldpeg/v1/json.h"
#include "fieldpeg/v1/membership.pb.h"
#include "server/book/channels.h"
#include "server/book/library.h"
#include "server/book/names.h"
#include "server/book/sweep.h"
#include "server/wire/addresses.h"
#include "server/wire/authority.h"
#include "server/wire/discovery.h"
#include "server/wire/ticket.h"

#include <cmath>
#include <cstdint>
#include <cstdlib>
#include <string>
#include <string_view>

namespace fieldpeg {
namespace {

void require(bool holds) {
    if (!holds) std::abort();
}

void read_ticket(std::string_view text) {
    const auto ticket = wire::read_ticket(text);
    if (!ticket) return;
    const auto again = wire::read_ticket(wire::ticket_text(*ticket));
    // Beyond ASCII a host is written with escapes, three letters each.
    if (!again) return require(again.error().why == "is too long");
    require(again->secret == ticket->secret && again->fingerprint == ticket->fingerprint &&
            again->port == ticket->port);
    require(!wire::qr_rows(wire::ticket_text(*ticket)).empty());
    require(!wire::phone_url(*ticket, text).empty());
}

void read_addresses(const std::string& text) {
    if (const auto at = wire::read_authority(text)) {
        require(!at->host.empty());
        if (at->port) wire::authority(at->host, *at->port);
    }
    wire::read_endpoint("--listen", text, 7323);
    if (const auto found = wire::read_notice(text, "192.0.2.1"))
        require(found->port != 0 && found->fingerprint.size() == wire::fingerprint_bytes);
}

void read_words(const std::string& text) {
    std::string why;
    const book::ChannelNames names(book::library().rows());
    if (const auto name = book::proper_name(text, why))
        require(book::proper_name(*name, why) == name);
    if (const auto channel = names.read(text, why)) require(std::isfinite(channel->mhz()));
    names.read_range(text, why);
    if (const auto power = book::read_power_dbm(text, why)) require(std::isfinite(*power));
    show::read_moment(text, 1'800'000'000'000, 1'800'000'000'000);
    const std::string known[] = {"Ann", "Bob", "fm-video"};
    book::nearest(text, known);
    require(book::printable(text, 40).size() <= 4 * 40 + 3);
}

void read_sweep(std::string_view text) {
    book::Problems problems;
    const auto sweep = book::read_sweep(text, "sweep.csv", problems);
    require(sweep.has_value() == problems.empty());
    if (!sweep) return;
    require(sweep->level_dbm_size() > 0 &&
            static_cast<std::size_t>(sweep->level_dbm_size()) <= book::sweep_steps_max);
    for (const auto level : sweep->level_dbm()) require(std::isfinite(level));
}

void read_kept(const std::string& text) {
    v1::Memberships all;
    if (!v1::read_json(text, all)) return;
    v1::Memberships again;
    require(v1::read_json(v1::json_text(all, {.on_lines = true, .with_zeros = false}), again));
    require(again.SerializeAsString() == all.SerializeAsString());
}

}  // namespace
}  // namespace fieldpeg

extern "C" int LLVMFuzzerTestOneInput(const std::uint8_t* data, std::size_t size) {
    const std::string text(reinterpret_cast<const char*>(data), size);
    fieldpeg::read_ticket(text);
    fieldpeg::read_addresses(text);
    fieldpeg::read_words(text);
    fieldpeg::read_sweep(text);
    fieldpeg::read_kept(text);
    return 0;
}
