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

/// The log of one day: a SQLite file (docs/formats.md). Appending is durable when it returns;
/// reading goes on beside it, also from other programs.
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
    /// and nothing left behind. Refuses what is no day log, or is of a later version.
    static Result<std::unique_ptr<DayLog>> open(const std::string& path, Access access);
    ~DayLog();

    const std::string& path() const;

    /// All of it, on disk where the log was opened, or nothing and why; of an empty batch there is
    /// nothing to write. Sets the hashes of the entries. Requires versions in order, following the
    /// last.
    Result<void> append(Batch& batch);

    // What cannot be read is refused with the file's name.

    Result<std::uint64_t> last_version() const;
    /// Of the whole log; 32 zero bytes if it is empty.
    Result<std::string> head_hash() const;

    /// Entries in order, from after one version up to another; ends early when told so. The chain
    /// is held as it is walked: an entry that is not what was written, or is missing, is not given,
    /// and refused with its number.
    Result<void> each(std::uint64_t after, std::uint64_t up_to,
                      const std::function<bool(const Entry&)>& take) const;
    Result<std::map<std::uint32_t, std::string>> names() const;
    Result<std::vector<Answered>> answers() const;
    Result<std::vector<Key>> keys() const;
    Result<std::vector<Ticket>> tickets() const;

    /// Of a log that may be damaged: the first rows of each table of these, up to where it cannot
    /// be read any more. Which tables that were.
    std::vector<std::string> read_what_can_be(Batch& into) const;

    /// Walks the whole chain; none: it holds.
    std::optional<Fault> verify() const;
    /// A refusal if the file is damaged where no entry of it is.
    Result<void> is_whole() const;
    /// A refusal if the file, or what belongs to it, is no longer where it was opened: what is
    /// written into it then cannot be found again. In any thread.
    Result<void> in_its_place() const;

private:
    struct Connections;
    explicit DayLog(std::unique_ptr<Connections> connections);
    static Result<std::unique_ptr<DayLog>> opened_to_write(const std::string& path);
    static Result<std::unique_ptr<DayLog>> opened_to_read(const std::string& path, Access access);
    static Result<std::unique_ptr<DayLog>> opened_elsewhere(const std::string& path, Access access);
    Result<void> connect();
    Result<void> begin(Batch& batch);
    void leave_one_file();
    void write(Batch& batch);
    std::optional<Fault> walk(std::uint64_t after, std::uint64_t up_to,
                              const std::function<bool(const Entry&)>& take) const;

    std::unique_ptr<Connections> connections_;
};

}  // namespace fieldpeg::log
