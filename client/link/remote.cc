#include "client/link/remote.h"

#include "client/link/line.h"
#include "server/log/hash.h"
#include "server/service/secret.h"

#include <optional>
#include <utility>

namespace fieldpeg::link {
namespace {

v1::Request asking(const v1::Query& query) {
    v1::Request request;
    request.set_id(1);
    *request.mutable_query() = query;
    return request;
}

v1::Answer answer(std::optional<v1::Response> response, const Line& line) {
    if (response && response->has_answer()) return std::move(*response->mutable_answer());
    v1::Answer answer;
    *answer.mutable_refusal() = line.connection().why_not();
    return answer;
}

}  // namespace

Remote::Remote(v1::Membership membership, Patience patience)
    : line_(std::make_unique<Line>(std::move(membership), std::nullopt, patience)) {}
Remote::~Remote() = default;

v1::Answer Remote::ask(const v1::Query& query) {
    return answer(line_->exchange(asking(query)), *line_);
}

v1::Answer Remote::ask_long(const v1::Query& query, const Progress& progress) {
    return answer(line_->exchange_long(asking(query), progress), *line_);
}

v1::Reply Remote::send(const v1::Command& command) {
    v1::Request request;
    request.set_id(1);
    request.set_idempotency_key(log::hex(service::random_bytes(16)));
    *request.mutable_command() = command;
    if (auto response = line_->exchange(request); response && response->has_reply())
        return std::move(*response->mutable_reply());
    v1::Reply reply;
    *reply.mutable_refusal() = line_->connection().why_not();
    return reply;
}

v1::Refusal Remote::watch(const Watcher& watcher) {
    line_->watch(watcher);
    return line_->connection().why_not();
}

std::int64_t Remote::now_ms() const {
    return local_ms() + line_->connection().ahead_ms();
}

std::string Remote::self() const {
    return membership().name();
}

const v1::Membership& Remote::membership() const {
    return line_->connection().membership();
}

Result<v1::Membership> join(const wire::Ticket& ticket, const std::string& name,
                            Patience patience) {
    v1::Membership m;
    m.set_host(ticket.host);
    m.set_port(ticket.port);
    m.set_fingerprint(ticket.fingerprint);
    m.set_key(service::random_bytes(service::key_bytes));
    m.set_name(name);
    v1::JoinRequest request;
    request.set_secret(ticket.secret);
    request.set_name(name);
    request.set_key_hash(log::sha256(m.key()));
    Line line(m, request, patience);
    if (line.connect()) return line.connection().membership();
    const auto& why = line.connection().why_not();
    using Kind = Refusal::Kind;
    const auto kind = why.kind() == v1::Refusal::no_answer     ? Kind::no_answer
                      : why.kind() == v1::Refusal::unavailable ? Kind::unavailable
                      : why.kind() == v1::Refusal::malformed   ? Kind::malformed
                                                               : Kind::not_permitted;
    return Refusal{kind, why.where(), why.why(), why.next()};
}

}  // namespace fieldpeg::link
