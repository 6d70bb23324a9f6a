#include "tests/simulation/commands.h"
#include "tests/simulation/device.h"
#include "tests/simulation/promises.h"
#include "tests/support/random.h"

#include <fmt/format.h>

#include <algorithm>
#include <cstring>
#include <utility>

/// What a phone has to do with its connection, and what comes over it.
namespace fieldpeg::simulation {

using link::Unanswered;
using testing::chance;
using testing::whole;

namespace {

constexpr std::int64_t connect_ms = link::Patience{}.connect.count();
constexpr std::int64_t ping_ms = std::chrono::milliseconds(link::ping_every).count();

}  // namespace

void Device::connect() {
    auto cable = world_.network.cable();
    ++epoch_;
    if (!world_.host.accept(cable)) {
        later(whole(world_.chance, 1, 50), [this] { unanswered(Unanswered::unsent); });
        return;
    }
    ++world_.tally.connections;
    cable_ = std::move(cable);
    channel_ = wire::FrameChannel(wire::server_frame_max);
    cable_->client.arrived = [this](const std::string& bytes) { arrived(bytes); };
    cable_->client.lost = [this] { lost(); };
    v1::ClientFrame m;
    m.mutable_hello()->set_protocol(wire::protocol_version);
    if (is_member_)
        m.mutable_hello()->set_key(key_);
    else
        join(*m.mutable_hello());
    send(m);
    later(connect_ms, [this] {
        if (!up_) lost();
    });
}

void Device::join(v1::Hello& hello) {
    auto& join = *hello.mutable_join();
    join.set_name(owner_.name);
    join.set_key_hash(service::Keeper::hash_of(key_));
    if (owner_.knocks) return;
    const auto ticket =
        world_.tickets.at({owner_.role, owner_.has_own_ticket ? owner_.name : std::string()});
    join.set_secret(world_.host.secret(ticket));
}

void Device::send(const v1::ClientFrame& m) {
    world_.network.send(cable_, &Cable::server, *wire::frame(m));
}

void Device::watch() {
    v1::ClientFrame m;
    m.mutable_request()->set_id(++last_id_);
    if (by_changes_)
        m.mutable_request()->set_watch_changes(true);
    else
        m.mutable_request()->set_watch(true);
    send(m);
    has_board_ = false;
}

void Device::hang_up() {
    if (!cable_) return;
    note("hangs up");
    lost();
}

void Device::lost() {
    if (!cable_) return;
    note("has lost its connection");
    ++epoch_;
    cable_->client.arrived = nullptr;
    cable_->client.lost = nullptr;
    world_.network.cut(cable_);
    cable_.reset();
    up_ = false;
    has_board_ = false;
    if (pending_) unanswered(pending_->is_on_its_way ? Unanswered::sent : Unanswered::unsent);
}

void Device::arrived(const std::string& bytes) {
    const auto epoch = epoch_;
    for (std::size_t at = 0; at < bytes.size();) {
        const auto room = channel_.room();
        const auto count = std::min(room.size(), bytes.size() - at);
        std::memcpy(room.data(), bytes.data() + at, count);
        channel_.arrived(count);
        at += count;
        while (true) {
            v1::ServerFrame m;
            const auto next = channel_.next(m);
            if (!next) throw Broken("what the server sends makes no sense");
            if (!*next) break;
            take(m);
            if (epoch != epoch_) return;
        }
    }
}

void Device::take(const v1::ServerFrame& m) {
    const auto sends = sends_.find(m.response().id());
    world_.oracle.heard(number_, m, sends != sends_.end() && sends->second == 1);
    if (m.has_welcome()) {
        note(fmt::format("is welcome as {}", m.welcome().person().ShortDebugString()));
        person_ = m.welcome().person();
        is_member_ = true;
        if (up_) return;  // they are somebody else now
        up_ = true;
        watch();
        later(ping_ms, [this] {
            v1::ClientFrame ping;
            ping.set_ping(true);
            send(ping);
        });
        if (pending_) send_pending();
    }
    if (m.has_response()) take_response(m.response());
    if (m.has_change()) take_change(m.change());
    if (m.has_goodbye()) take_goodbye(m.goodbye());
}

void Device::take_response(const v1::Response& response) {
    const auto asked = asked_.find(response.id());
    if (asked == asked_.end()) return;  // that it watches now
    if (response.has_reply()) take_reply(asked->second, response.reply());
    if (pending_ && pending_->request.id() == response.id()) pending_.reset();
}

void Device::take_reply(const v1::Request& request, const v1::Reply& reply) {
    const auto& command = request.command();
    note(fmt::format("hears of {} {}: {}", request.idempotency_key(), name_of(command),
                     reply.ShortDebugString()));
    world_.oracle.replied(request.idempotency_key(), command, reply);
    auto& asked = world_.tally.commands[name_of(command)];
    ++(is_yes(reply) ? asked.yes : asked.no);
    if (!reply.has_ticket()) return;
    const auto role = reply.ticket().pilot().empty() ? reply.ticket().role() : v1::Role::pilot;
    world_.tickets[{role, reply.ticket().pilot()}] = reply.ticket().ticket();
}

void Device::take_change(const v1::Change& change) {
    ++world_.tally.changes;
    note(fmt::format("is told of version {}", change.version()));
    if (world_.fault == Fault::missed_change && change.has_since() && chance(world_.chance, 5)) {
        board_.set_version(change.version());
        return;
    }
    board_ = applied(board_, change);
    has_board_ = true;
}

void Device::take_goodbye(const v1::Refusal& why) {
    note("is let go: " + why.why());
    if (!up_) ++world_.tally.refused_entrances;
    if (link::is_final(why)) make_a_key();  // with what they have, they join again
    lost();
}

}  // namespace fieldpeg::simulation
