#include "client/link/connection.h"

#include "client/link/link.h"
#include "client/link/understood.h"
#include "server/wire/authority.h"
#include "server/wire/discovery.h"
#include "server/wire/frame_stream.h"
#include "server/wire/identity.h"
#include "server/wire/version.h"
#include "server/wire/within.h"

#include <fmt/format.h>
#include <spdlog/spdlog.h>
#include <boost/asio/connect.hpp>

#include <algorithm>
#include <string>
#include <utility>
#include <vector>

namespace fieldpeg::link {
namespace {

using asio::ip::tcp;
using wire::quietly;
using wire::within;
using namespace std::chrono_literals;

constexpr auto looked_for = 500ms;
constexpr int elsewhere_max = 4;

}  // namespace

Connection::Connection(asio::io_context& io, v1::Membership membership,
                       std::optional<v1::JoinRequest> join, Patience patience)
    : io_(io),
      membership_(std::move(membership)),
      join_(std::move(join)),
      patience_(patience),
      tls_(wire::client_context()) {}

void Connection::fail(const std::string& why) {
    why_not_.set_kind(v1::Refusal::no_answer);
    why_not_.set_where(
        wire::authority(membership_.host(), static_cast<std::uint16_t>(membership_.port())));
    why_not_.set_why(why);
    why_not_.set_next("do not switch on unless the marshal says so");
    is_silent_ = why == nothing_comes_back;
}

void Connection::not_understood() {
    fail(std::string(link::not_understood));
    const auto what = server_.empty() || server_ == wire::server_program()
                          ? std::string("is it of another version, or no server of Fieldpeg's?")
                          : fmt::format("it is {}, this is {}: use the client that came with it.",
                                        server_, wire::client_program());
    why_not_.set_next(what + " Do not switch on unless the marshal says so");
    is_for_good_ = true;
    hang_up();
}

void Connection::other_protocol(std::uint32_t theirs) {
    fail(fmt::format("this server{} speaks version {} of the protocol, this client ({}) version {}",
                     server_.empty() ? "" : fmt::format(" ({})", server_), theirs,
                     wire::client_program(), wire::protocol_version));
    why_not_.set_next(
        "use the client that came with the server. Do not switch on unless the marshal says so");
    is_for_good_ = true;
    hang_up();
}

asio::awaitable<void> Connection::open() {
    if (is_silent_ && !membership_.elsewhere().empty()) {  // it would be waited for once more
        co_await look_elsewhere();
        if (is_up_) co_return;
    }
    co_await attempt();
    if (is_up_ || is_for_good_) co_return;
    co_await look_elsewhere();
    if (is_up_ || is_told_to_wait_) co_return;
    const auto found = co_await wire::find_server(static_cast<std::uint16_t>(membership_.port()),
                                                  membership_.fingerprint(), looked_for);
    if (!found || (found->host == membership_.host() && found->port == membership_.port()))
        co_return;
    spdlog::info("the server is at {} now", found->host);
    membership_.set_host(found->host);
    membership_.set_port(found->port);
    co_await attempt();
}

/// A server that says where the day is answered instead, or did before it was gone, is believed as
/// far as an attempt: what is found there is known by its fingerprint.
asio::awaitable<void> Connection::look_elsewhere() {
    const std::vector<std::string> known(membership_.elsewhere().begin(),
                                         membership_.elsewhere().end());
    const auto host = membership_.host();
    const auto port = membership_.port();
    for (const auto& text : known) {
        const auto at = wire::read_authority(text.substr(0, text.find('/')));
        if (!at || !at->port || (at->host == host && *at->port == port)) continue;
        membership_.set_host(at->host);
        membership_.set_port(*at->port);
        co_await attempt();
        if (!is_up_) continue;
        spdlog::info("the day is answered at {} now", text);
        remember(wire::authority(host, static_cast<std::uint16_t>(port)));
        co_return;
    }
    membership_.set_host(host);
    membership_.set_port(port);
    is_for_good_ = false;  // of another than the one that was joined
}

void Connection::remember(const std::string& address) {
    v1::ServerFrame m;
    m.add_elsewhere(address);
    take_elsewhere(m);
}

/// Those that the server names come first; those that were named before are kept behind them, for
/// who was gone may have come back.
void Connection::take_elsewhere(const v1::ServerFrame& m) {
    auto all = m.has_welcome() ? m.welcome().elsewhere() : m.elsewhere();
    for (const auto& text : membership_.elsewhere())
        if (std::ranges::find(all, text) == all.end()) *all.Add() = text;
    if (all.size() > elsewhere_max) all.DeleteSubrange(elsewhere_max, all.size() - elsewhere_max);
    *membership_.mutable_elsewhere() = std::move(all);
}

asio::awaitable<void> Connection::attempt() {
    drop();
    is_for_good_ = is_told_to_wait_ = false;
    auto opening = std::make_unique<Stream>(io_, tls_);
    bool shaken = false;
    fail("the server does not answer");
    const bool in_time = co_await within(patience_.connect, shake_hands(*opening, shaken));
    if (!in_time) fail(nothing_comes_back);
    if (!in_time || !shaken) co_return;
    if (wire::peer_fingerprint(opening->native_handle()) != membership_.fingerprint()) {
        fail(
            "another server is at this address than the one that was joined: its fingerprint "
            "differs");
        why_not_.set_next(
            "ask the marshal for a ticket of today's server; somebody may be listening in");
        is_for_good_ = true;
        co_return;
    }
    stream_ = std::move(opening);
    channel_ = wire::FrameChannel(wire::server_frame_max);
    is_up_ = true;
    bool welcomed = false;
    const bool greeted = co_await within(patience_.answer, greet(welcomed));
    if (!greeted) fail(nothing_comes_back);
    if (!welcomed) drop();
}

asio::awaitable<void> Connection::shake_hands(Stream& stream, bool& shaken) {
    tcp::resolver resolver(io_);
    const auto [unknown, addresses] = co_await resolver.async_resolve(
        membership_.host(), std::to_string(membership_.port()), quietly);
    if (unknown) {
        fail("there is no such host: " + unknown.message());
        co_return;
    }
    const auto [refused, at] =
        co_await asio::async_connect(stream.lowest_layer(), addresses, quietly);
    if (refused) {
        fail("there is no server: " + refused.message());
        co_return;
    }
    boost::system::error_code ignored;  // a convenience
    stream.lowest_layer().set_option(tcp::no_delay(true), ignored);
    const auto [error] = co_await stream.async_handshake(asio::ssl::stream_base::client, quietly);
    if (error) fail("no secure connection: " + error.message());
    shaken = !error;
}

asio::awaitable<void> Connection::greet(bool& welcomed) {
    v1::ClientFrame hello;
    hello.mutable_hello()->set_protocol(wire::protocol_version);
    hello.mutable_hello()->set_program(wire::client_program());
    if (join_)
        *hello.mutable_hello()->mutable_join() = *join_;
    else
        hello.mutable_hello()->set_key(membership_.key());
    co_await write(std::move(hello));
    v1::ServerFrame m;
    co_await read(m);
    if (is_up_ && m.has_welcome()) server_ = m.welcome().program();
    welcomed = is_up_ && m.has_welcome() && m.welcome().protocol() == wire::protocol_version;
    if (is_up_ && m.has_welcome() && !welcomed)
        other_protocol(m.welcome().protocol());
    else if (is_up_ && !welcomed)
        not_understood();
}

void Connection::take(const v1::ServerFrame& m) {
    const auto& welcome = m.welcome();
    take_elsewhere(m);
    membership_.set_name(welcome.person().name());
    membership_.set_role(welcome.person().role());
    membership_.set_day(welcome.day());
    membership_.set_version(welcome.version());
    membership_.set_head_hash(welcome.head_hash());
    membership_.set_awaits_nod(welcome.person().awaits_nod());
    ahead_ms_ = welcome.now_ms() - local_ms();
}

asio::awaitable<void> Connection::read(v1::ServerFrame& into) {
    bool is_whole = false;
    while (is_up_ && !is_whole) {
        const auto next = channel_.next(into);
        if (!next) co_return not_understood();
        is_whole = *next;
        if (is_whole) break;
        const auto error = co_await wire::receive(*stream_, channel_);
        if (error && is_up_) co_return lose(error.message());
    }
    if (!is_up_) co_return;
    if (!made_fit(into) || into.what_case() == v1::ServerFrame::WHAT_NOT_SET)
        co_return not_understood();
    if (into.has_welcome()) take(into);
    if (!into.has_goodbye()) co_return;
    take_elsewhere(into);
    why_not_ = into.goodbye();
    is_told_to_wait_ = !into.elsewhere().empty();
    is_for_good_ = is_final(why_not_);
    hang_up();
}

asio::awaitable<void> Connection::write(v1::ClientFrame m) {
    if (!is_up_) co_return;
    channel_.send(wire::frame(m));
    const auto error = co_await wire::flush(*stream_, channel_);
    if (error && is_up_) lose(error.message());
}

/// Nothing more is to go over the connection.
void Connection::hang_up() {
    is_up_ = false;
    boost::system::error_code ignored;  // it is lost either way
    stream_->lowest_layer().close(ignored);
}

void Connection::drop() {
    is_up_ = false;
    stream_.reset();
}

void Connection::lose(const std::string& why) {
    fail("the connection is lost: " + why);
    hang_up();
}

}  // namespace fieldpeg::link
