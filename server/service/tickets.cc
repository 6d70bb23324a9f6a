/// What lets people in: tickets, one by one and all at once.

#include "server/service/keeper.h"

#include "server/day/state.h"
#include "server/day/words.h"
#include "server/log/hash.h"
#include "server/service/secret.h"

#include <utility>

namespace fieldpeg::service {
namespace {

v1::Reply refused(const Refusal& refusal, std::uint64_t version) {
    v1::Reply reply;
    reply.set_version(version);
    *reply.mutable_refusal() = day::message(refusal);
    return reply;
}

}  // namespace

v1::Reply Keeper::renewed(const v1::RenewTicket& asked, Prepared& prepared) {
    v1::Reply reply;
    reply.set_version(prepared.after.version());
    const auto* pilot = day::pilot(prepared.after.sheet(), asked.pilot());
    const auto role = asked.pilot().empty() ? asked.role() : v1::Role::pilot;
    if (role == v1::Role::unknown)
        return refused(
            {Refusal::Kind::malformed, "role", "is missing", "marshal, pilot or onlooker"},
            reply.version());
    const auto secret = random_bytes(secret_bytes);
    prepared.batch.tickets.push_back({log::sha256(secret), role, pilot ? pilot->id() : 0});
    reply.mutable_ticket()->set_role(role);
    reply.mutable_ticket()->set_pilot(asked.pilot());
    write_ticket(secret, *reply.mutable_ticket());
    return reply;
}

std::optional<log::Ticket> Keeper::ticket_of(const std::string& secret) const {
    const auto hash = log::sha256(secret);
    for (const auto& t : tickets_)
        if (t.hash == hash) return t;
    return std::nullopt;
}

Result<void> Keeper::give_tickets(const PutTickets& put) {
    auto prepared = beginning_ ? *std::move(beginning_) : Prepared();
    beginning_.reset();
    return hand_out(std::move(prepared), put);
}

Result<void> Keeper::renew_secrets(std::int64_t now_ms, const PutTickets& put) {
    auto prepared = prepare({}, now_ms);
    take_in(day::all_withdrawn(prepared.after, now_ms).events, prepared);
    prepared.batch.secrets_dropped = true;
    return hand_out(std::move(prepared), put);
}

/// Three tickets, first where they are found and then good: whoever reads them there before has at
/// worst to wait.
Result<void> Keeper::hand_out(Prepared prepared, const PutTickets& put) {
    if (prepared.after.version() == 0) prepared.after = state_;
    std::vector<v1::TicketReply> tickets;
    for (const auto role : {v1::Role::marshal, v1::Role::pilot, v1::Role::onlooker}) {
        v1::RenewTicket asked;
        asked.set_role(role);
        tickets.push_back(renewed(asked, prepared).ticket());
    }
    if (auto there = put(tickets); !there) return there;
    auto committed = commit(prepared);
    if (!committed) return committed.error();
    finish(std::move(prepared), committed);
    return {};
}

}  // namespace fieldpeg::service
