#include "tests/simulation/session.h"

#include "server/day/state.h"
#include "server/wire/within.h"

#include <boost/asio/this_coro.hpp>

#include <algorithm>
#include <cstring>
#include <exception>
#include <utility>

namespace fieldpeg::simulation {
namespace {

/// So few that slow readers are soon behind.
constexpr std::size_t changes_queued = 3;
/// Pieces that the network holds for a slow reader.
constexpr std::size_t on_the_way_max = 4;

using wire::quietly;

asio::awaitable<bool> is_cancelled() {
    const auto state = co_await asio::this_coro::cancellation_state;
    co_return state.cancelled() != asio::cancellation_type::none;
}

}  // namespace

Session::Session(const asio::any_io_executor& executor, service::Desk& desk, wire::Form& form,
                 wire::Gate& gate, Network& network, std::shared_ptr<Cable> cable)
    : desk_(desk),
      network_(network),
      cable_(std::move(cable)),
      conversation_(executor, desk, form, gate, {}, changes_queued),
      readable_(executor, asio::steady_timer::time_point::max()),
      writable_(executor, asio::steady_timer::time_point::max()) {
    cable_->server.arrived = [this](const std::string& bytes) {
        arrived_ += bytes;
        wake();
    };
    cable_->server.lost = [this] { hang_up(); };
    cable_->client.taken = [this] { wake(); };
}

Session::~Session() {
    cable_->server.arrived = nullptr;
    cable_->server.lost = nullptr;
    cable_->client.taken = nullptr;
}

void Session::hang_up() {
    lost_ = true;
    wake();
}

void Session::wake() {
    readable_.cancel();
    writable_.cancel();
}

asio::awaitable<void> Session::run() {
    const bool is_in = co_await let_in();
    if (is_in) co_await wire::first_to_end(read_requests(), write_frames());
    if (lost_) co_return;
    co_await asio::this_coro::reset_cancellation_state(asio::disable_cancellation());
    network_.send(cable_, &Cable::client, *conversation_.goodbye());
    network_.end(cable_);
}

asio::awaitable<bool> Session::let_in() {
    v1::ClientFrame first;
    bool came = false;
    co_await read(first, came);
    if (!came || !first.has_hello()) co_return false;
    std::string key_hash;
    const bool is_known = co_await enter(std::move(*first.mutable_hello()), key_hash);
    if (!is_known) co_return false;
    const auto* who = desk_.keeper().person_with(key_hash);
    if (!who) co_return false;
    conversation_.let_in(*who, std::move(key_hash));
    conversation_.welcome();
    channel_.allow(wire::client_frame_max);
    co_return true;
}

asio::awaitable<bool> Session::enter(v1::Hello hello, std::string& key_hash) {
    if (!hello.has_join()) {
        key_hash = service::Keeper::hash_of(hello.key());
        if (desk_.keeper().person_with(key_hash)) co_return true;
        conversation_.refuse(wire::refusal(v1::Refusal::not_permitted, "key",
                                           "is not known here, or was withdrawn", ""));
        co_return false;
    }
    service::Entrance entrance;
    entrance.secret = hello.join().secret();
    entrance.name = hello.join().name();
    entrance.key_hash = key_hash = hello.join().key_hash();
    const auto reply = co_await desk_.enter(std::move(entrance));
    if (reply.has_refusal()) conversation_.refuse(reply.refusal());
    co_return reply.has_done();
}

asio::awaitable<void> Session::read(v1::ClientFrame& into, bool& came) {
    while (true) {
        const auto next = channel_.next(into);
        if (!next) {
            conversation_.refuse(
                wire::refusal(v1::Refusal::malformed, next.error().where, next.error().why, ""));
            co_return;
        }
        came = *next;
        if (came) co_return;
        if (!arrived_.empty()) {
            const auto room = channel_.room();
            const auto count = std::min(room.size(), arrived_.size());
            std::memcpy(room.data(), arrived_.data(), count);
            channel_.arrived(count);
            arrived_.erase(0, count);
            continue;
        }
        if (lost_) co_return;
        co_await readable_.async_wait(quietly);
        const bool is_over = co_await is_cancelled();
        if (is_over) co_return;
    }
}

asio::awaitable<void> Session::read_requests() {
    bool goes_on = true;
    while (goes_on) {
        v1::ClientFrame m;
        bool came = false;
        co_await read(m, came);
        if (!came) co_return;
        goes_on = co_await conversation_.take(std::move(m));
    }
}

asio::awaitable<void> Session::write_frames() {
    while (!lost_) {
        auto next = co_await conversation_.next();
        if (!next) co_return;
        co_await write(std::move(next));
    }
}

/// Returns when the network has taken it.
asio::awaitable<void> Session::write(wire::Frame frame) {
    network_.send(cable_, &Cable::client, *frame);
    while (cable_->client.on_the_way >= on_the_way_max && !lost_) {
        co_await writable_.async_wait(quietly);
        const bool is_over = co_await is_cancelled();
        if (is_over) co_return;
    }
}

}  // namespace fieldpeg::simulation
