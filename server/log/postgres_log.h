#pragma once

#include "server/log/day_log.h"
#include "server/log/lease.h"
#include "server/log/postgres.h"

#include <chrono>
#include <cstdint>
#include <memory>
#include <optional>
#include <string>
#include <vector>

namespace fieldpeg::log {

/// A day's row, as who wants to take it sees it.
struct DaySeen {
    std::int64_t no = 0;
    std::int64_t term = 0;
    std::int64_t beat = 0;
    std::int64_t version = 0;
    std::string holder;
    std::chrono::milliseconds silence = silence_default;
};
/// None: there is no such day.
Told<std::optional<DaySeen>> look_at_day(Database& database, const std::string& name);
/// A row for a day that begins, unless there is one.
Result<void> make_room_for(Database& database, const std::string& name);

/// The log of a day in a database that several servers reach, of which one has the day: under a
/// term that each append is held against in the transaction that writes (docs/database.md).
class PostgresLog final : public DayLog {
public:
    /// To write: takes the day if nobody has it, or if who had it is silent; refuses where another
    /// server has it.
    static Result<std::unique_ptr<DayLog>> open(const std::string& place, Access access);
    static bool exists(const std::string& place);
    /// From the term under which it was seen to be silent, or nobody's.
    static Result<std::unique_ptr<DayLog>> take(const std::string& place, const DaySeen& seen,
                                                std::chrono::milliseconds silence);

    /// One of an archive, by its number there, to be read.
    static Result<std::unique_ptr<DayLog>> of_day(const std::string& address, std::int64_t no);

    const std::string& path() const override { return shown_; }
    Appended append(Batch& batch) override;
    Result<std::uint64_t> last_version() const override;
    Result<std::string> head_hash() const override;
    Result<std::map<std::uint32_t, std::string>> names() const override;
    Result<std::vector<Answered>> answers() const override;
    Result<std::vector<Key>> keys() const override;
    Result<std::vector<Ticket>> tickets() const override;
    Result<void> is_whole() const override { return {}; }
    Result<void> in_its_place() const override;
    Hold hold() const override;
    void answered_at(const std::string& address) override;
    std::vector<std::string> standbys() const override;
    std::vector<LogCheck> checks() const override;

private:
    PostgresLog(std::string place, std::int64_t day);
    /// Where the day stands.
    struct Stands {
        std::int64_t term = 0;
        std::int64_t writes = 0;
        std::uint64_t version = 0;
        std::string head;
    };
    Result<void> connect_writer();
    Told<void> send(const Batch& batch, const Stands& after);
    std::optional<Stands> stands();
    bool is_durable();
    std::optional<Appended> found_out(const Batch& batch, const Stands& after);
    Appended not_ours();
    Result<Rows> read(const char* sql, const Values& values) const;
    std::optional<std::string> rows(std::uint64_t after, std::uint64_t up_to,
                                    std::string& hash_before, const TakeRow& take) const override;

    const std::string place_, address_, shown_;
    const std::int64_t day_;
    std::chrono::milliseconds silence_ = silence_default;
    Stands now_;  ///< as last written
    std::unique_ptr<Database> writer_;
    mutable std::unique_ptr<Database> reader_;
    std::unique_ptr<Lease> lease_;  ///< null: only read
};

}  // namespace fieldpeg::log
