#include "server/service/keeper.h"

#include "server/book/day_file.h"
#include "server/book/lookalikes.h"
#include "server/book/names.h"
#include "server/day/apply.h"
#include "server/day/differences.h"
#include "server/day/line.h"
#include "server/day/sentences.h"
#include "server/day/state.h"
#include "server/day/words.h"
#include "server/log/hash.h"
#include "server/service/lookalikes.h"
#include "server/service/record.h"
#include "server/service/resolve.h"
#include "server/service/secret.h"

#include "fieldpeg/v1/numbers.h"

#include <fmt/format.h>
#include <boost/assert.hpp>

#include <algorithm>
#include <filesystem>

namespace fieldpeg::service {
namespace {

/// A clock that is this far behind its own last entry was set back.
constexpr std::int64_t clock_tolerance_ms = 2000;
constexpr std::size_t idempotency_key_length_max = 64;

v1::Reply refused(const Refusal& refusal, std::uint64_t version) {
    v1::Reply reply;
    reply.set_version(version);
    *reply.mutable_refusal() = day::message(refusal);
    return reply;
}

Refusal withdrawn() {
    return {Refusal::Kind::not_permitted, "", "your key was withdrawn",
            "ask the marshal for a ticket"};
}

/// Why somebody who joined may not act; none if they may.
std::optional<Refusal> may_not_act(const v1::DayState& state, const day::Actor& actor) {
    if (actor.id == 0) return std::nullopt;
    const auto* who = day::person(state, actor.id);
    if (!who || who->withdrawn()) return withdrawn();
    if (who->awaits_nod())
        return Refusal{
            Refusal::Kind::not_permitted, "",
            who->claims() == 0 && !day::pilot(state.sheet(), who->name())
                ? std::string("the marshal has not let you in yet")
                : fmt::format("the marshal has not said yet that you are {}", who->name()),
            "ask the marshal: fieldpeg pilot nod"};
    return std::nullopt;
}

/// A name as the day writes it, if anybody or any relay of it is called so.
std::string own_spelling(const v1::DayState& state, std::string name) {
    if (const auto* p = book::find_named(state.sheet().pilots(), name)) name = p->name();
    if (const auto* p = book::find_named(state.people(), name)) name = p->name();
    if (const auto* r = book::find_named(state.sheet().relays(), name)) name = r->name();
    return name;
}

}  // namespace

Result<std::unique_ptr<Keeper>> Keeper::open(const DayFiles& files, log::DayLog::Access access,
                                             std::int64_t now_ms,
                                             std::vector<std::string>& differences, Begins begins,
                                             std::optional<v1::DaySheet> unwritten) {
    const bool writes = access == log::DayLog::Access::write;
    if (!writes && !log::DayLog::exists(files.log))
        return opened(files, nullptr, writes, now_ms, differences, begins, std::move(unwritten));
    auto log = log::DayLog::open(files.log, access);
    if (!log) return log.error();
    return opened(files, *std::move(log), writes, now_ms, differences, begins,
                  std::move(unwritten));
}

Result<std::unique_ptr<Keeper>> Keeper::open(const DayFiles& files,
                                             std::unique_ptr<log::DayLog> log, std::int64_t now_ms,
                                             std::vector<std::string>& differences, Begins begins,
                                             std::optional<v1::DaySheet> unwritten) {
    return opened(files, std::move(log), true, now_ms, differences, begins, std::move(unwritten));
}

Result<std::unique_ptr<Keeper>> Keeper::opened(const DayFiles& files,
                                               std::unique_ptr<log::DayLog> log, bool writes,
                                               std::int64_t now_ms,
                                               std::vector<std::string>& differences, Begins begins,
                                               std::optional<v1::DaySheet> unwritten) {
    book::Problems problems;
    auto sheet = book::load_day(files.sheet, problems);
    std::string all;
    for (const auto& p : problems) all += (all.empty() ? "" : "\n") + book::to_string(p);
    std::unique_ptr<Keeper> keeper(new Keeper());
    keeper->writes_ = writes;
    if (log)
        if (const auto taken = keeper->take_over(std::move(log)); !taken) return taken.error();
    if (keeper->state_.version() == 0) {  // new, or the power went before its first entry
        if (unwritten && !std::filesystem::exists(files.sheet)) sheet = *std::move(unwritten);
        if (!sheet)
            return Refusal{Refusal::Kind::malformed, "", all,
                           "the log of the day begins with its day file"};
        if (auto begun = keeper->begin(*std::move(sheet), now_ms, begins); !begun)
            return begun.error();
    } else if (sheet) {
        for (const auto& of : day::differences(keeper->state_.sheet(), *sheet))
            differences.push_back("the day file says otherwise: " + day::difference_text(of));
    } else if (std::filesystem::exists(files.sheet)) {
        differences.push_back("the day file cannot be read any more: " + all);
    }
    return keeper;
}

Result<void> Keeper::take_over(std::unique_ptr<log::DayLog> log) {
    log_ = std::move(log);
    auto replayed = replay();
    if (replayed) return {};
    auto why = replayed.error();
    why.kind = Refusal::Kind::malformed;  // it will not be better for waiting
    return why;
}

log::Hold Keeper::hold() const {
    return log_ ? log_->hold() : log::Hold::sure;
}

std::vector<std::string> Keeper::standbys() const {
    return log_ ? log_->standbys() : std::vector<std::string>();
}

void Keeper::answered_at(const std::string& address) const {
    if (log_) log_->answered_at(address);
}

void Keeper::started_anew(std::int64_t now_ms) {
    Prepared prepared;
    take_in(day::restarted(state_, now_ms).events, prepared);
    if (prepared.events.empty()) return;
    const auto committed = commit(prepared);
    finish(std::move(prepared), committed);
}

/// The day's first event, from its file.
Result<void> Keeper::begin(v1::DaySheet sheet, std::int64_t now_ms, Begins begins) {
    auto first = day::set_up(state_, std::move(sheet), now_ms);
    Prepared prepared;
    take_in(std::move(first.events), prepared);
    if (begins == Begins::with_tickets) {
        beginning_ = std::move(prepared);
        return {};
    }
    auto committed = writes_ ? commit(prepared) : log::Appended();
    if (!committed) return committed.error();
    finish(std::move(prepared), committed);
    return {};
}

Result<void> Keeper::log_in_its_place() const {
    return log_ ? log_->in_its_place() : Result<void>();
}

/// What is wrong with the log; empty if nothing is.
std::string Keeper::fault() const {
    if (!log_) return "";
    const auto told = [](const Refusal& why) { return fmt::format("{}: {}", why.where, why.why); };
    if (const auto there = log_in_its_place(); !there) return told(there.error());
    v1::DayState state;
    Beside beside;
    const auto whole = each(UINT64_MAX, [&](const log::Entry& e, const v1::Event& event) {
        beside.take(e, columns(event, state));
        day::apply(state, event);
        return true;
    });
    if (!whole) return told(whole.error());
    const auto wrong = beside.text();
    return wrong.empty() ? "" : fmt::format("{}: {}", log_->path(), wrong);
}

Refusal Keeper::broken(std::uint64_t version, const char* why, const char* next) const {
    return {Refusal::Kind::unavailable, log_->path(), fmt::format("entry {}: {}", version, why),
            next};
}

/// Each entry with its event, in order, and no fewer of them than the day has.
Result<void> Keeper::each(std::uint64_t up_to, const Take& take) const {
    if (!log_) return {};
    std::uint64_t last = 0;
    bool is_wanted = true;
    auto read = each_event(*log_, names_, up_to, [&](const log::Entry& e, const v1::Event& event) {
        last = e.version;
        return is_wanted = take(e, event);
    });
    if (!read || !is_wanted || last >= std::min(up_to, state_.version())) return read;
    return broken(last + 1, "it is missing, and what came after it",
                  "keep the file as it is; what stands before it: fieldpeg log salvage FILE --to "
                  "NEW.daylog");
}

Result<void> Keeper::replay() {
    auto names = log_->names();
    if (!names) return names.error();
    names_ = *std::move(names);
    auto folded = fold_events(*log_, names_, state_,
                              [](const log::Entry&, const v1::Event&) { return true; });
    if (!folded) return folded;
    auto head = log_->head_hash();
    if (!head) return head.error();
    head_hash_ = *std::move(head);
    auto answers = log_->answers();
    if (!answers) return answers.error();
    for (auto& a : *answers) answered_[{a.person, a.idempotency_key}] = std::move(a.reply);
    const auto keys = log_->keys();
    if (!keys) return keys.error();
    for (const auto& k : *keys) keys_[k.hash] = k.person;
    auto tickets = log_->tickets();
    if (!tickets) return tickets.error();
    tickets_ = *std::move(tickets);
    return {};
}

/// Takes events into a batch: the state after them, and how they are stored.
void Keeper::take_in(std::vector<v1::Event> events, Prepared& prepared) const {
    if (prepared.after.version() == 0) prepared.after = state_;
    auto names = prepared.batch.names;
    names.insert(names_.begin(), names_.end());
    for (auto& e : events) {
        for (const auto& [id, name] : new_names(e)) prepared.batch.names[id] = names[id] = name;
        prepared.batch.entries.push_back(entry(e, prepared.after, names));
        prepared.happened.push_back(day::sentence(e, prepared.after));
        keep_keys(e, prepared);
        day::apply(prepared.after, e);
        prepared.events.push_back(std::move(e));
    }
}

/// What becomes of keys by an event: dropped, or from now on that of the person they said they are.
void Keeper::keep_keys(const v1::Event& event, Prepared& prepared) const {
    if (event.has_key_withdrawn())
        prepared.batch.keys_dropped.push_back(event.key_withdrawn().person());
    if (event.has_nod_refused())
        prepared.batch.keys_dropped.push_back(event.nod_refused().person());
    const auto* who =
        event.has_nodded() ? day::person(prepared.after, event.nodded().person()) : nullptr;
    if (who == nullptr || who->claims() == 0) return;
    for (const auto& [hash, person] : keys_)
        if (person == who->id()) prepared.batch.keys.push_back({hash, who->claims()});
}

void Keeper::tell_of_clock(std::int64_t now_ms, Prepared& prepared) {
    const auto by_ms = now_ms - state_.at_ms();
    if (state_.version() == 0 || by_ms > -clock_tolerance_ms) return;
    take_in(day::clock_jumped(prepared.after, by_ms, now_ms).events, prepared);
}

Keeper::Prepared Keeper::prepare(std::span<const Ask> asks, std::int64_t now_ms) {
    Prepared prepared;
    prepared.after = state_;
    tell_of_clock(now_ms, prepared);
    take_in(day::lapses(prepared.after, now_ms, &memory_).events, prepared);
    for (const auto& ask : asks) prepared.replies.push_back(decided(ask, now_ms, prepared));
    return prepared;
}

v1::Reply Keeper::decided(const Ask& ask, std::int64_t now_ms, Prepared& prepared) {
    const auto version = prepared.after.version();
    if (!ask.key_hash.empty() && !keys_.contains(ask.key_hash))
        return refused(withdrawn(), version);
    if (ask.idempotency_key.size() > idempotency_key_length_max)
        return refused({Refusal::Kind::malformed, "idempotency_key", "is too long",
                        fmt::format("at most {} bytes", idempotency_key_length_max)},
                       version);
    const std::pair key(ask.actor.id, ask.idempotency_key);
    if (!ask.idempotency_key.empty()) {
        v1::Reply first;
        const auto known = answered_.find(key);
        if (known != answered_.end() && first.ParseFromString(known->second)) return first;
        for (const auto& a : prepared.batch.answers)
            if (a.person == key.first && a.idempotency_key == key.second &&
                first.ParseFromString(a.reply))
                return first;
    }
    if (const auto why = may_not_act(prepared.after, ask.actor)) return refused(*why, version);
    if (auto why = day::refused_unread(ask.actor, ask.command.ask_case())) {
        v1::Reply reply;
        reply.set_version(version);
        *reply.mutable_refusal() = *std::move(why);
        return reply;
    }
    const auto command = resolve(ask.command, prepared.after, ask.actor.id);
    if (!command) return refused(command.error(), version);
    auto decision = day::decide(prepared.after, ask.actor, *command, now_ms, memory_);
    // What could not be read again is not written.
    if (!std::ranges::all_of(decision.events, v1::are_numbers_plain))
        return refused({Refusal::Kind::out_of_range, "command",
                        "has a number or a time beyond all measure", "numbers that mean something"},
                       version);
    const auto* renewal = std::get_if<v1::RenewTicket>(&*command);
    if (renewal && !decision.reply.has_refusal()) return renewed(*renewal, prepared);
    const bool changes = !decision.events.empty();
    take_in(std::move(decision.events), prepared);
    if (changes && !ask.idempotency_key.empty())
        prepared.batch.answers.push_back(
            {ask.actor.id, ask.idempotency_key, decision.reply.SerializeAsString()});
    return std::move(decision.reply);
}

Keeper::Prepared Keeper::prepare_entrance(const Entrance& entrance, std::int64_t now_ms) {
    Prepared prepared;
    prepared.after = state_;
    auto reply = entered(entrance, now_ms, prepared);
    prepared.replies.push_back(reply ? *std::move(reply)
                                     : refused(reply.error(), state_.version()));
    return prepared;
}

Result<v1::Reply> Keeper::entered(const Entrance& entrance, std::int64_t now_ms,
                                  Prepared& prepared) const {
    const bool has_ticket = !entrance.secret.empty();
    const auto ticket =
        has_ticket ? ticket_of(entrance.secret) : log::Ticket{"", v1::Role::pilot, 0};
    if (!ticket)
        return Refusal{Refusal::Kind::not_permitted, "ticket",
                       "this ticket is not good, or no longer", "ask the marshal for a new one"};
    std::string why;
    const auto proper = book::proper_name(entrance.name, why);
    if (!proper)
        return Refusal{Refusal::Kind::malformed, "name", why,
                       "1 to 40 characters, as you are known on the field"};
    if (entrance.key_hash.size() != key_bytes)
        return Refusal{Refusal::Kind::malformed, "key", "is not the SHA-256 of a key", ""};
    if (const auto known = keys_.find(entrance.key_hash); known != keys_.end()) {  // asked again
        v1::Reply again;
        again.set_version(state_.version());
        again.mutable_done()->set_id(known->second);
        return again;
    }
    const auto name = own_spelling(state_, *proper);
    const auto* listed = day::pilot(state_.sheet(), name);
    if (ticket->pilot != 0 && (!listed || listed->id() != ticket->pilot))
        return Refusal{Refusal::Kind::not_permitted, "name", "this ticket is another pilot's",
                       "join under the name it was made for"};
    const auto role = static_cast<v1::Role::Kind>(ticket->role);
    const auto bearer = role == v1::Role::marshal ? book::Bearer::marshal : book::Bearer::anybody;
    if (!listed && book::is_reserved(name, bearer))
        return Refusal{Refusal::Kind::malformed, "name",
                       fmt::format("'{}' is what the program calls somebody or something", name),
                       "another name, as you are known on the field"};
    const day::Joining who{name, role, ticket->pilot != 0, has_ticket,
                           !resembled(state_, name).empty()};
    auto decision = day::join(state_, who, now_ms);
    if (!decision) return decision.error();
    const auto* known = day::person(state_, name);
    const auto id = decision->reply.done().id();
    if (known && known->id() == id && (known->awaits_nod() || known->withdrawn()))
        prepared.batch.keys_dropped.push_back(id);
    prepared.batch.keys.push_back({entrance.key_hash, id});
    take_in(std::move(decision->events), prepared);
    return std::move(decision->reply);
}

std::vector<v1::Reply> Keeper::finish(Prepared prepared, const log::Appended& committed) {
    if (!committed.may_go_on()) return {};
    if (!committed) {
        // A no rests on what was to be recorded before it, too.
        for (auto& reply : prepared.replies)
            if (!reply.has_refusal() || reply.version() > state_.version())
                reply = refused(committed.error(), state_.version());
        return std::move(prepared.replies);
    }
    auto& batch = prepared.batch;
    if (batch.secrets_dropped) {
        keys_.clear();
        tickets_.clear();
    }
    if (prepared.after.version() != 0) state_ = std::move(prepared.after);
    if (!batch.entries.empty()) head_hash_ = batch.entries.back().hash;
    for (auto& [id, name] : batch.names) names_[id] = std::move(name);
    for (auto& a : batch.answers) answered_[{a.person, a.idempotency_key}] = std::move(a.reply);
    std::erase_if(keys_, [&](const auto& key) {
        return std::ranges::find(batch.keys_dropped, key.second) != batch.keys_dropped.end();
    });
    for (auto& k : batch.keys) keys_[k.hash] = k.person;
    for (auto& t : batch.tickets) {
        std::erase_if(tickets_,
                      [&](const auto& old) { return old.role == t.role && old.pilot == t.pilot; });
        tickets_.push_back(std::move(t));
    }
    return std::move(prepared.replies);
}

v1::Reply Keeper::settle(Prepared prepared) {
    const auto committed = commit(prepared);
    const auto version = state_.version();
    auto replies = finish(std::move(prepared), committed);
    return replies.empty() ? refused(committed.error(), version) : std::move(replies.front());
}

v1::Reply Keeper::take(const Ask& ask, std::int64_t now_ms) {
    return settle(prepare({&ask, 1}, now_ms));
}

v1::Reply Keeper::enter(const Entrance& entrance, std::int64_t now_ms) {
    return settle(prepare_entrance(entrance, now_ms));
}

const v1::Person* Keeper::person_of(const std::string& key) const {
    return person_with(hash_of(key));
}

std::string Keeper::hash_of(const std::string& key) {
    return log::sha256(key);
}

const v1::Person* Keeper::person_with(const std::string& key_hash) const {
    const auto known = keys_.find(key_hash);
    if (known == keys_.end()) return nullptr;
    const auto* who = day::person(state_, known->second);
    return who && !who->withdrawn() ? who : nullptr;
}

}  // namespace fieldpeg::service
