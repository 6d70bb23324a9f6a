#include "server/wire/conversation.h"

#include "server/day/board_change.h"
#include "server/day/state.h"
#include "server/wire/version.h"
#include "server/wire/within.h"

#include "fieldpeg/v1/unknown.h"

#include <fmt/format.h>
#include <spdlog/spdlog.h>
#include <boost/asio/this_coro.hpp>

#include <algorithm>
#include <chrono>
#include <cstdint>
#include <utility>

namespace fieldpeg::wire {
namespace {

/// Of each receiver, in an answer to somebody who has shown no key: of one pilot, of all of them.
constexpr std::uint32_t strangers_contributions_max = 6, strangers_contributions_of_all_max = 1;

/// What somebody may ask who has shown no key, or only knocked.
bool may_look(const v1::Query& query, bool has_knocked) {
    switch (query.ask_case()) {
        case v1::Query::kDay:
        case v1::Query::kGear:
            return has_knocked && query.moment().version() == 0 && query.moment().at_ms() == 0;
        case v1::Query::kBoard:
        case v1::Query::kCheck:
        case v1::Query::kExplain:
            return query.moment().version() == 0 && query.moment().at_ms() == 0;
        default:
            return false;
    }
}

/// What strangers may ask is short, so that one answer is good for most of them.
v1::Query as_strangers_ask(v1::Query query) {
    if (query.has_check())
        query.mutable_check()->set_contributions(
            std::min(query.check().contributions(), strangers_contributions_of_all_max));
    if (query.has_explain())
        query.mutable_explain()->set_contributions(
            std::min(query.explain().contributions(), strangers_contributions_max));
    return query;
}

/// What it costs, in short questions [ours: measured on a day of 40 pilots].
double weight(const v1::ClientFrame& m) {
    constexpr double hardly_anything = 0.25, little = 1, much = 4, everything = 12;
    if (!m.has_request()) return hardly_anything;
    if (!m.request().has_query()) return little;
    const auto& query = m.request().query();
    const bool is_of_now = query.moment().version() == 0 && query.moment().at_ms() == 0;
    switch (query.ask_case()) {
        case v1::Query::kBoard:
        case v1::Query::kDay:
        case v1::Query::kFree:
        case v1::Query::kChannels:
            return is_of_now ? little : much;
        case v1::Query::kCheck:
            return everything;
        default:
            return much;
    }
}

std::string update_one() {
    return fmt::format("this is {}: update it, or use the client that came with it",
                       server_program());
}

/// What of a request has no word here would change what is done: none of it is done.
v1::Refusal of_a_later_program() {
    return refusal(v1::Refusal::malformed, "request",
                   "says something that this server has no word for; nothing was done",
                   update_one());
}

v1::Refusal only_looks(bool has_knocked) {
    if (has_knocked)
        return refusal(v1::Refusal::not_permitted, "", "the marshal has not let you in yet",
                       "wait for the nod; until then you can look at the day");
    return refusal(v1::Refusal::not_permitted, "", "this page only shows the day",
                   "scan the marshal's ticket to take part");
}

}  // namespace

v1::Refusal refusal(v1::Refusal::Kind kind, std::string where, std::string why, std::string next) {
    v1::Refusal m;
    m.set_kind(kind);
    m.set_where(std::move(where));
    m.set_why(std::move(why));
    m.set_next(std::move(next));
    return m;
}

bool may_join(const std::string& secret, const service::Keeper& keeper, Gate& gate,
              const Gate::Address& from) {
    const auto now = std::chrono::steady_clock::now();
    if (secret.empty()) return gate.takes_knock(from, now);
    return !keeper.ticket_of(secret) || gate.takes_joining(from, now);
}

v1::Refusal too_many_join() {
    return refusal(v1::Refusal::unavailable, "", "too many join from this address",
                   "wait a minute, or ask the marshal for a ticket");
}

v1::Refusal others_need_the_place() {
    return refusal(v1::Refusal::unavailable, "", "too many are connected from here",
                   "connect again; whoever has joined keeps their place");
}

Frame Form::written(const std::shared_ptr<const v1::Change>& change, Written& last) const {
    if (last.of.lock() == change && last.bytes) return last.bytes;
    v1::ServerFrame m;
    *m.mutable_change() = *change;
    last.bytes = write_(m);
    last.of = change;
    return last.bytes;
}

Frame Form::frame(const std::shared_ptr<const v1::Change>& change) {
    return written(change, last_change_);
}

Frame Form::frame(const std::shared_ptr<const v1::Change>& change,
                  const std::shared_ptr<const v1::Change>& before) {
    if (told_by_changes_.lock() != change) {
        by_before_.clear();
        told_by_changes_ = change;
    }
    auto& bytes = by_before_[before];
    if (bytes) return bytes;
    v1::ServerFrame m;
    *m.mutable_change() = day::since(before->board(), *change);
    return bytes = write_(m);
}

Frame Form::snapshot(const std::shared_ptr<const v1::Change>& everything) {
    return written(everything, last_snapshot_);
}

Conversation::Conversation(const asio::any_io_executor& executor, service::Desk& desk, Form& form,
                           Gate& gate, Gate::Address from, std::size_t changes_queued)
    : desk_(desk),
      form_(form),
      gate_(gate),
      from_(std::move(from)),
      outbox_(changes_queued),
      owing_(executor, asio::steady_timer::time_point::max()),
      room_(executor, asio::steady_timer::time_point::max()),
      turn_(executor) {}

Conversation::~Conversation() {  // NOLINT(bugprone-exception-escape)
    watch(false, false);
    if (errand_) errand_->forget();
    if (person_) desk_.went(*person_);
}

void Conversation::let_in(const v1::Person& person, std::string key_hash) {
    person_ = person.id();
    key_hash_ = std::move(key_hash);
    desk_.came(*person_);
    spdlog::debug("person {} is connected", *person_);
}

void Conversation::welcome() {
    v1::ServerFrame m;
    auto& w = *m.mutable_welcome();
    w.set_protocol(protocol_version);
    w.set_program(server_program());
    w.set_day(desk_.keeper().state().sheet().name());
    if (const auto* is = who()) {
        *w.mutable_person() = *is;
        welcomed_ = *is;
    }
    w.set_version(desk_.keeper().state().version());
    w.set_head_hash(desk_.keeper().head_hash());
    w.set_now_ms(desk_.now_ms());
    welcomed_elsewhere_ = desk_.keeper().standbys();
    for (const auto& address : welcomed_elsewhere_) w.add_elsewhere(address);
    owe(m);
}

/// Whose key it is; null: nobody's, or not any more.
const v1::Person* Conversation::who() const {
    return person_ ? desk_.keeper().person_with(key_hash_) : nullptr;
}

/// Told anew once it is something else: who waited may act, who was a pilot is the marshal; a
/// second server is there, or gone.
void Conversation::follow_who_they_are() {
    const auto* is = who();
    if (is == nullptr || welcomed_.id() == 0) return;
    if (is->id() == welcomed_.id() && is->role() == welcomed_.role() &&
        is->awaits_nod() == welcomed_.awaits_nod() &&
        welcomed_elsewhere_ == desk_.keeper().standbys())
        return;
    if (is->id() != *person_) {
        desk_.went(*person_);
        person_ = is->id();
        desk_.came(*person_);
    }
    welcome();
}

bool Conversation::may_only_look() const {
    const auto* is = who();
    return is == nullptr || (is->awaits_nod() && is->without_ticket());
}

/// Whether the key is still good, and the day ours to be told of; if not, the goodbye says so.
bool Conversation::is_welcome() {
    if (!desk_.may_tell()) {
        refuse(refusal(v1::Refusal::unavailable, "",
                       "this server is not sure that it still has the day",
                       "ask again: if another server has it, that one answers"));
        return false;
    }
    follow_who_they_are();
    if (!person_ || who() != nullptr) return true;
    refuse(refusal(v1::Refusal::not_permitted, "", "your key was withdrawn",
                   "ask the marshal for a ticket"));
    return false;
}

void Conversation::refuse(v1::Refusal why) {
    if (goodbye_) return;
    spdlog::info("a client is let go: {} {}", why.where(), why.why());
    goodbye_ = std::move(why);
}

void Conversation::leave(v1::Refusal why) {
    refuse(std::move(why));
    owing_.cancel();
    room_.cancel();
    turn_.cancel();
}

void Conversation::fail(const std::exception& mistake) {
    spdlog::error("a conversation failed: {}", mistake.what());
    refuse(refusal(v1::Refusal::unavailable, "", "the server failed at what was asked",
                   "connect again; what was not answered can be asked again"));
    owing_.cancel();
}

Frame Conversation::goodbye() const {
    v1::ServerFrame m;
    *m.mutable_goodbye() =
        goodbye_ ? *goodbye_ : refusal(v1::Refusal::unavailable, "", "the connection ends", "");
    for (const auto& address : desk_.keeper().standbys()) m.add_elsewhere(address);
    return form_.frame(m);
}

/// As a client takes it: no longer than a frame may be.
Frame Conversation::written(const v1::ServerFrame& m) {
    auto bytes = form_.frame(m);
    if (bytes->size() <= length_bytes + server_frame_max) return bytes;
    v1::ServerFrame instead;
    instead.mutable_response()->set_id(m.response().id());
    *instead.mutable_response()->mutable_answer()->mutable_refusal() = refusal(
        v1::Refusal::out_of_range, "", fmt::format("the answer is {} bytes long", bytes->size()),
        fmt::format("at most {}: ask for a part of it", server_frame_max));
    return form_.frame(instead);
}

void Conversation::owe(const v1::ServerFrame& m) {
    outbox_.answer(written(m));
    owing_.cancel();
}

void Conversation::owe_progress(const v1::Progress& so_far, std::uint64_t id) {
    v1::ServerFrame m;
    m.mutable_response()->set_id(id);
    *m.mutable_response()->mutable_progress() = so_far;
    try {
        outbox_.progress(form_.frame(m));
    } catch (const std::exception& mistake) {
        fail(mistake);
    }
    owing_.cancel();
}

/// The same where nobody is there to whom an exception could go: it is called by the desk.
void Conversation::owe_later(const v1::ServerFrame& m) {
    try {
        owe(m);
    } catch (const std::exception& mistake) {
        fail(mistake);
    }
}

/// One that cannot be told, here or by the desk, is part of the next snapshot.
void Conversation::owe_change(const std::shared_ptr<const v1::Change>& change) {
    try {
        if (!change)
            outbox_.owe_snapshot();
        else if (!outbox_.needs_snapshot())
            outbox_.push(by_changes_ ? form_.frame(change, last_owed_) : form_.frame(change));
        if (by_changes_) last_owed_ = change;
    } catch (const std::exception& mistake) {
        spdlog::error("a change was not told: {}", mistake.what());
        outbox_.owe_snapshot();
    }
    owing_.cancel();
}

void Conversation::watch(bool on, bool by_changes) {
    if (watching_) desk_.unwatch(*watching_);
    watching_.reset();
    by_changes_ = by_changes;
    if (!on) return;
    watching_ = desk_.watch(
        [this](const std::shared_ptr<const v1::Change>& change) { owe_change(change); });
    outbox_.owe_snapshot();
    owing_.cancel();
}

asio::awaitable<Frame> Conversation::next() {
    while (is_welcome() && !goodbye_) {
        auto frame = outbox_.pop();
        room_.cancel();
        if (frame) co_return std::move(*frame);
        if (outbox_.needs_snapshot()) {
            const auto everything = desk_.snapshot();
            outbox_.resume_from(form_.snapshot(everything));
            if (by_changes_) last_owed_ = everything;
            continue;
        }
        co_await owing_.async_wait(quietly);
        const auto state = co_await asio::this_coro::cancellation_state;
        if (state.cancelled() != asio::cancellation_type::none) co_return nullptr;
    }
    co_return nullptr;
}

/// Waits until another answer may be owed. False: cancelled.
asio::awaitable<bool> Conversation::room() {
    while (!goodbye_ && !outbox_.has_room()) {
        co_await room_.async_wait(quietly);
        const auto state = co_await asio::this_coro::cancellation_state;
        if (state.cancelled() != asio::cancellation_type::none) co_return false;
    }
    co_return true;
}

/// Waits until it is the client's turn: who has shown no key pays with all of their address, who
/// has one with their other devices. False: cancelled.
asio::awaitable<bool> Conversation::turn(double weight) {
    const auto now = service::SteadyTime::now();
    const auto wait = may_only_look()
                          ? gate_.asked(from_, now, weight)
                          : gate_.asked(*person_, who()->role() == v1::Role::marshal, now, weight);
    if (wait == Gate::Wait::zero()) co_return true;
    turn_.expires_after(wait);
    co_await turn_.async_wait(quietly);
    const auto state = co_await asio::this_coro::cancellation_state;
    co_return state.cancelled() == asio::cancellation_type::none;
}

asio::awaitable<bool> Conversation::take(v1::ClientFrame m) {
    const bool has_room = co_await room();
    if (!has_room || !is_welcome()) co_return false;
    const bool is_turn = co_await turn(weight(m));
    if (!is_turn || goodbye_ || !is_welcome()) co_return false;
    if (m.has_ping()) {
        v1::ServerFrame pong;
        pong.set_pong(true);
        owe(pong);
        co_return true;
    }
    if (m.what_case() == v1::ClientFrame::kEnough) {
        if (errand_ && m.enough() == errand_id_) errand_->enough();
        co_return true;
    }
    if (!m.has_request()) {
        refuse(refusal(v1::Refusal::malformed, "frame", "asks for nothing that is known here",
                       update_one()));
        co_return false;
    }
    co_await answer(std::move(*m.mutable_request()));
    co_return true;
}

asio::awaitable<void> Conversation::answer(v1::Request request) {
    v1::ServerFrame m;
    auto& response = *m.mutable_response();
    response.set_id(request.id());
    if ((request.has_command() || request.has_query()) && v1::says_unknown(request)) {
        auto& no = request.has_command() ? *response.mutable_reply()->mutable_refusal()
                                         : *response.mutable_answer()->mutable_refusal();
        no = of_a_later_program();
        co_return owe(m);
    }
    switch (request.what_case()) {
        case v1::Request::kCommand: {
            auto reply = co_await this->reply(std::move(request));
            *response.mutable_reply() = std::move(reply);
            break;
        }
        case v1::Request::kQuery: {
            bool comes_later = false;
            auto answer = co_await this->answer(request.query(), request.id(), comes_later);
            if (comes_later) co_return;
            *response.mutable_answer() = std::move(answer);
            break;
        }
        case v1::Request::kWatch:
            watch(request.watch(), false);
            response.set_watching(request.watch());
            break;
        case v1::Request::kWatchChanges:
            watch(request.watch_changes(), true);
            response.set_watching(request.watch_changes());
            break;
        case v1::Request::WHAT_NOT_SET:
            *response.mutable_answer()->mutable_refusal() =
                refusal(v1::Refusal::malformed, "request", "asks for nothing that is known here",
                        update_one());
            break;
    }
    owe(m);
}

asio::awaitable<v1::Reply> Conversation::reply(v1::Request request) {
    const auto* is = who();
    if (!is) {
        v1::Reply reply;
        *reply.mutable_refusal() = only_looks(false);
        co_return reply;
    }
    service::Ask ask;
    ask.actor.id = is->id();
    ask.actor.role = is->role();
    ask.key_hash = key_hash_;
    ask.command = std::move(*request.mutable_command());
    ask.idempotency_key = std::move(*request.mutable_idempotency_key());
    auto reply = co_await desk_.submit(std::move(ask));
    co_return reply;
}

asio::awaitable<v1::Answer> Conversation::answer(v1::Query query, std::uint64_t id,
                                                 bool& comes_later) {
    v1::Answer refused;
    const bool is_stranger = may_only_look();
    if (is_stranger && !may_look(query, person_.has_value())) {
        *refused.mutable_refusal() = only_looks(person_.has_value());
        co_return refused;
    }
    if (is_stranger) query = as_strangers_ask(std::move(query));
    if (!planning::takes_long(query)) {
        const auto of = is_stranger ? service::Of::strangers : service::Of::people;
        auto answer = co_await desk_.ask(std::move(query), of);
        co_return answer;
    }
    if (errand_) {
        *refused.mutable_refusal() =
            refusal(v1::Refusal::conflict, "", "a question of yours is being answered already",
                    "wait for it, or end it");
        co_return refused;
    }
    begin(query, id);
    comes_later = true;
    co_return refused;
}

/// Word of its progress and the answer are owed like any other frame.
void Conversation::begin(const v1::Query& query, std::uint64_t id) {
    errand_id_ = id;
    errand_ = desk_.begin(
        query, [this, id](const v1::Progress& so_far) { owe_progress(so_far, id); },
        [this, id](v1::Answer answer) {
            v1::ServerFrame m;
            m.mutable_response()->set_id(id);
            *m.mutable_response()->mutable_answer() = std::move(answer);
            errand_.reset();
            outbox_.progress(nullptr);
            owe_later(m);
        });
}

}  // namespace fieldpeg::wire
