#pragma once

#include "server/day/decide.h"
#include "server/log/day_log.h"
#include "server/log/pseudonyms.h"
#include "server/refusal/refusal.h"
#include "server/service/near.h"
#include "server/service/record.h"

#include "fieldpeg/v1/command.pb.h"
#include "fieldpeg/v1/event.pb.h"
#include "fieldpeg/v1/query.pb.h"
#include "fieldpeg/v1/wire.pb.h"

#include <functional>
#include <map>
#include <memory>
#include <optional>
#include <span>
#include <string>
#include <utility>
#include <vector>

namespace fieldpeg::service {

/// The files of a day: saturday.toml has its log in saturday.daylog.
struct DayFiles {
    std::string sheet;     ///< the day file; only read
    std::string log;       ///< SQLite, or a day in a database (log/database_place.h)
    std::string identity;  ///< the server's certificate and key, mode 0600
    std::string tickets;   ///< mode 0600
};
DayFiles files_of(const std::string& day_file);
/// The same for the server, who is told where the log of a new day is to be, and keeps that beside
/// the day file for all who open the day. Refuses where the day has begun in another place.
Result<DayFiles> files_of(const std::string& day_file, const std::string& log);

/// Whether there is a log: from then on it is what counts.
bool has_begun(const DayFiles& files);

/// A command and who asks it. The key names it: asked again under the same, it is answered as it
/// was.
struct Ask {
    day::Actor actor;
    v1::Command command;
    std::string idempotency_key;
    std::string key_hash = {};  ///< by which the actor was let in; empty: without a key
};

/// A wish to join, checked against its ticket already or not.
struct Entrance {
    std::string secret;  ///< empty: there is no ticket, and the marshal is asked
    std::string name;
    std::string key_hash;  ///< SHA-256, 32 bytes
};

/// When a new day has its first entry: now, or with its tickets (give_tickets), before which
/// nothing may be asked of it.
enum class Begins { at_once, with_tickets };

/// The one owner of a day's state. A command goes through three steps: prepare decides it on the
/// state as it will be after those before it, commit makes the events durable, finish makes them
/// the state. No answer leaves before finish. Nothing is decided while a batch is between prepare
/// and finish; commit may run in another thread meanwhile, and questions may be asked.
class Keeper {
public:
    /// Opens a day. To write, it holds the day and makes the log if there is none. To read, it
    /// touches nothing: without a log it is the day as the file has it, and take() may not be
    /// called. Where the day file says something else than the log, `differences` says what; the
    /// log holds. `unwritten` is what begins where there is no day file.
    static Result<std::unique_ptr<Keeper>> open(const DayFiles& files, log::DayLog::Access access,
                                                std::int64_t now_ms,
                                                std::vector<std::string>& differences,
                                                Begins begins = Begins::at_once,
                                                std::optional<v1::DaySheet> unwritten = {});
    /// The same with a log that was opened to be written.
    static Result<std::unique_ptr<Keeper>> open(const DayFiles& files,
                                                std::unique_ptr<log::DayLog> log,
                                                std::int64_t now_ms,
                                                std::vector<std::string>& differences,
                                                Begins begins,
                                                std::optional<v1::DaySheet> unwritten = {});
    /// Whether there is anything of the day in a log.
    bool has_begun() const { return state_.version() != 0; }

    const v1::DayState& state() const { return state_; }
    const std::string& head_hash() const { return head_hash_; }

    struct Prepared {
        log::Batch batch;
        std::vector<v1::Event> events;
        std::vector<std::string> happened;  ///< beside the events, a sentence each
        std::vector<v1::Reply> replies;     ///< beside the asks
        v1::DayState after;
    };
    Prepared prepare(std::span<const Ask> asks, std::int64_t now_ms);
    /// Somebody joins, with a ticket or to wait for a nod; the reply's `done.id` is the person.
    Prepared prepare_entrance(const Entrance& entrance, std::int64_t now_ms);
    /// Not written: replies that said yes, or followed from it, must be taken back. Not ours, or
    /// unknown: nobody may be told anything, and the day is this keeper's no longer.
    log::Appended commit(Prepared& prepared) { return log_->append(prepared.batch); }
    /// Empty where nobody may be told anything.
    std::vector<v1::Reply> finish(Prepared prepared, const log::Appended& committed);

    /// Whether what is known here of the day may be told: it may be another server's by now.
    log::Hold hold() const;
    /// Where those are found who wait to take the day over.
    std::vector<std::string> standbys() const;
    /// Where clients find this server: the log knows it for those who wait.
    void answered_at(const std::string& address) const;

    /// A refusal if what is recorded could not be found again. In any thread.
    Result<void> log_in_its_place() const;

    /// The server was started on a day that goes on: what is on the air is to be confirmed.
    void started_anew(std::int64_t now_ms);

    /// All three at once.
    v1::Reply take(const Ask& ask, std::int64_t now_ms);
    v1::Reply enter(const Entrance& entrance, std::int64_t now_ms);

    /// Who has this key; null if nobody, or if it was withdrawn.
    const v1::Person* person_of(const std::string& key) const;
    const v1::Person* person_with(const std::string& key_hash) const;
    static std::string hash_of(const std::string& key);

    /// What needs the log is refused, with its file's name, where it cannot be read, or is not what
    /// was written.
    v1::Answer answer(const v1::Query& query, std::int64_t now_ms) const;
    /// Everything as it is now, and what led there: events and their sentences.
    v1::Change change(std::span<const v1::Event> events,
                      std::span<const std::string> happened) const;

    /// The role and pilot that a secret is for; none if it is for nothing.
    std::optional<log::Ticket> ticket_of(const std::string& secret) const;
    bool has_tickets() const { return !tickets_.empty(); }

    /// Puts tickets where they are found. Called before they are good: a refusal, and they never
    /// are.
    using PutTickets = std::function<Result<void>(const std::vector<v1::TicketReply>&)>;
    /// The tickets of the three roles, for a day that has none, and its first entry if it has none.
    Result<void> give_tickets(const PutTickets& put);
    /// No key and no ticket is good any more, but for three new tickets; or all are as they were.
    /// Who had joined joins again.
    Result<void> renew_secrets(std::int64_t now_ms, const PutTickets& put);

    /// What a ticket with a secret looks like. The service doesn't know addresses.
    std::function<void(const std::string& secret, v1::TicketReply&)> write_ticket =
        [](const std::string& secret, v1::TicketReply& ticket) { ticket.set_ticket(secret); };
    /// Checks of the world around, for `ready`: the server adds what it knows.
    std::function<void(v1::ReadyReply&)> add_checks = [](v1::ReadyReply&) {};
    /// The frequencies that the machine's own wireless network is on; empty: it does not tell.
    std::function<std::vector<double>()> own_wifi_mhz = [] { return std::vector<double>(); };

private:
    Keeper() = default;

    static Result<std::unique_ptr<Keeper>> opened(const DayFiles& files,
                                                  std::unique_ptr<log::DayLog> log, bool writes,
                                                  std::int64_t now_ms,
                                                  std::vector<std::string>& differences,
                                                  Begins begins,
                                                  std::optional<v1::DaySheet> unwritten);
    Result<void> take_over(std::unique_ptr<log::DayLog> log);
    Result<void> begin(v1::DaySheet sheet, std::int64_t now_ms, Begins begins);
    std::string fault() const;
    Refusal broken(std::uint64_t version, const char* why, const char* next) const;
    Result<void> each(std::uint64_t up_to, const Take& take) const;
    Result<void> replay();
    void take_in(std::vector<v1::Event> events, Prepared& prepared) const;
    Result<v1::Reply> entered(const Entrance& entrance, std::int64_t now_ms,
                              Prepared& prepared) const;
    v1::Reply decided(const Ask& ask, std::int64_t now_ms, Prepared& prepared);
    v1::Reply renewed(const v1::RenewTicket& asked, Prepared& prepared);
    Result<void> hand_out(Prepared prepared, const PutTickets& put);
    void keep_keys(const v1::Event& event, Prepared& prepared) const;
    v1::Reply settle(Prepared prepared);
    void tell_of_clock(std::int64_t now_ms, Prepared& prepared);
    Result<v1::DayState> state_at(const v1::Moment& moment) const;
    std::string model_at(std::uint64_t version) const;
    Result<void> entries(std::uint64_t up_to, const v1::LogQuery& query, v1::LogReply& reply) const;
    v1::Answer log_answer(const v1::LogQuery& query) const;
    v1::Answer timeline_answer(const v1::Query& query, const v1::DayState& then,
                               std::int64_t now_ms) const;
    Result<Hindsight> hindsight(const v1::DayState& then, std::int64_t at_ms) const;
    void add_later(const v1::Query& query, const v1::DayState& then, std::int64_t now_ms,
                   v1::ExplainReply& reply) const;
    v1::Answer airtime_answer(const v1::AirtimeQuery& query, const v1::DayState& then,
                              std::int64_t at_ms) const;
    v1::Answer near_answer(const v1::Query& query, const v1::DayState& then,
                           std::int64_t now_ms) const;
    v1::Answer ready_answer(std::int64_t now_ms) const;

    std::unique_ptr<log::DayLog> log_;  ///< null: read as the file has it
    bool writes_ = false;
    std::optional<Prepared> beginning_;  ///< of a new day, until it has tickets
    v1::DayState state_;
    std::string head_hash_;
    log::Names names_;
    std::map<std::pair<std::uint32_t, std::string>, std::string> answered_;
    std::map<std::string, std::uint32_t> keys_;  ///< hash of key to person
    std::vector<log::Ticket> tickets_;
    mutable day::Memory memory_;  ///< from one command or question to the next; only saves time
};

}  // namespace fieldpeg::service
