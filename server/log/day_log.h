#pragma once

#include "server/refusal/refusal.h"

#include <cstdint>
#include <functional>
#include <map>
#include <memory>
#include <optional>
#include <string>
#include <utility>
#include <vector>

namespace fieldpeg::log {

/// One event as it is stored: the record and what of it can be asked for with SQL.
struct Entry {
    std::uint64_t version = 0;
    std::int64_t at_ms = 0;
    std::uint32_t actor = 0;
    std::uint32_t subject = 0;
    std::string kind;
    std::optional<double> frequency_mhz;
    std::optional<double> power_dbm;
    std::string record;     ///< bytes of the event, names left out
    std::string hash = {};  ///< SHA-256 over the hash before and the record; made by append
};

/// The first answer to a request, so that it can be given again.
struct Answered {
    std::uint32_t person = 0;
    std::string idempotency_key;
    std::string reply;
};

/// Somebody's key, as its hash.
struct Key {
    std::string hash;
    std::uint32_t person = 0;
};

/// A ticket, as its secret's hash: for a role, or for one pilot.
struct Ticket {
    std::string hash;
    int role = 0;
    std::uint32_t pilot = 0;  ///< 0: anybody
};

/// What is written together or not at all.
struct Batch {
    std::vector<Entry> entries;
    std::vector<Answered> answers;
    std::map<std::uint32_t, std::string> names;
    std::vector<Key> keys;
    std::vector<std::uint32_t> keys_dropped;  ///< of these persons, before keys are added
    std::vector<Ticket> tickets;              ///< each replaces that of its role and pilot
    bool secrets_dropped = false;             ///< all keys and tickets, before any are added

    bool empty() const {
        return entries.empty() && answers.empty() && names.empty() && keys.empty() &&
               keys_dropped.empty() && tickets.empty() && !secrets_dropped;
    }
};

/// Where a log is not what it says it is.
struct Fault {
    std::uint64_t version;
    std::string why;
};

/// What became of a batch.
struct Appended {
    enum class Outcome {
        written,      ///< all of it, on disk
        not_written,  ///< nothing of it, nor will it be
        not_ours,     ///< nothing of it: another program has the day now
        unknown,      ///< all of it or nothing; nobody may be told anything that rests on it
    };
    Outcome outcome = Outcome::written;
    Refusal why = {};  ///< where it is not written

    Appended() = default;
    Appended(Refusal why_not) : outcome(Outcome::not_written), why(std::move(why_not)) {}
    Appended(Outcome what, Refusal why_not) : outcome(what), why(std::move(why_not)) {}

    explicit operator bool() const { return outcome == Outcome::written; }
    const Refusal& error() const { return why; }
    /// Whether whoever wrote may go on with the day.
    bool may_go_on() const { return outcome != Outcome::not_ours && outcome != Outcome::unknown; }
};

/// Whose a day is, as far as the program that opened it to write knows.
enum class Hold {
    sure,
    unsure,  ///< it may be another's by now: nothing is to be said of it
    lost,    ///< it is another's
};

/// Something to be said of a log before a day: is it well, and what is there beside it?
struct LogCheck {
    bool is_good = true;
    std::string what, text;
};

/// The log of one day: a SQLite file, or a day in a database (docs/formats.md). Appending is
/// durable when it returns; reading goes on beside it, also from other programs.
///
/// Not for two threads at once, but for append in one and everything else in another.
class DayLog {
public:
    enum class Access {
        write,
        read,
        read_damaged,  ///< what can be read, of a file that may be cut off
    };

    /// Opens it. To write, it is held for this program alone as long as it is open; where there is
    /// none it is made by the first append, which it then has in it. To read, nothing is written,
    /// and nothing left behind. Refuses what is no day log, or is of a later version. `place`: a
    /// file, or a day in a database (database_place.h).
    static Result<std::unique_ptr<DayLog>> open(const std::string& place, Access access);
    /// Whether there is one with anything in it, as far as can be told.
    static bool exists(const std::string& place);

    DayLog() = default;
    DayLog(const DayLog&) = delete;
    DayLog& operator=(const DayLog&) = delete;
    virtual ~DayLog() = default;

    /// Where it is, for people.
    virtual const std::string& path() const = 0;

    /// All of it, on disk where the log was opened, or what else became of it; of an empty batch
    /// there is nothing to write. Sets the hashes of the entries. Requires versions in order,
    /// following the last.
    virtual Appended append(Batch& batch) = 0;

    // What cannot be read is refused with the log's name.

    virtual Result<std::uint64_t> last_version() const = 0;
    /// Of the whole log; 32 zero bytes if it is empty.
    virtual Result<std::string> head_hash() const = 0;

    /// Entries in order, from after one version up to another; ends early when told so. The chain
    /// is held as it is walked: an entry that is not what was written, or is missing, is not given,
    /// and refused with its number.
    Result<void> each(std::uint64_t after, std::uint64_t up_to,
                      const std::function<bool(const Entry&)>& take) const;
    virtual Result<std::map<std::uint32_t, std::string>> names() const = 0;
    virtual Result<std::vector<Answered>> answers() const = 0;
    virtual Result<std::vector<Key>> keys() const = 0;
    virtual Result<std::vector<Ticket>> tickets() const = 0;

    /// Of a log that may be damaged: the first rows of each table of these, up to where it cannot
    /// be read any more. Which tables that were.
    virtual std::vector<std::string> read_what_can_be(Batch& into) const;

    /// Walks the whole chain; none: it holds.
    std::optional<Fault> verify() const;
    /// A refusal if the log is damaged where no entry of it is.
    virtual Result<void> is_whole() const = 0;
    /// A refusal if the log, or what belongs to it, is no longer where it was opened: what is
    /// written into it then cannot be found again. In any thread.
    virtual Result<void> in_its_place() const = 0;

    /// In any thread.
    virtual Hold hold() const { return Hold::sure; }
    /// Where others reach the program that has the day: those who wait for it send clients there.
    virtual void answered_at(const std::string& /*address*/) {}
    /// Where those are who wait to take the day over.
    virtual std::vector<std::string> standbys() const { return {}; }
    virtual std::vector<LogCheck> checks() const { return {}; }

protected:
    /// Takes an entry as it is stored, and whether each of its columns is what it should be; ends
    /// early when told so.
    using TakeRow = std::function<bool(const Entry&, bool is_typed)>;
    /// Entries from after one version up to another, and first the hash before them. What comes
    /// back: why the next cannot be read.
    virtual std::optional<std::string> rows(std::uint64_t after, std::uint64_t up_to,
                                            std::string& hash_before,
                                            const TakeRow& take) const = 0;

private:
    std::optional<Fault> walk(std::uint64_t after, std::uint64_t up_to,
                              const std::function<bool(const Entry&)>& take) const;
};

}  // namespace fieldpeg::log
