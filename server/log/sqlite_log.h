#pragma once

#include "server/log/day_log.h"

#include <memory>
#include <string>
#include <vector>

namespace fieldpeg::log {

/// The log of a day as a file of SQLite's: the form in which a day travels (docs/formats.md).
class SqliteLog final : public DayLog {
public:
    static Result<std::unique_ptr<DayLog>> open(const std::string& path, Access access);
    ~SqliteLog() override;

    const std::string& path() const override;
    Appended append(Batch& batch) override;
    Result<std::uint64_t> last_version() const override;
    Result<std::string> head_hash() const override;
    Result<std::map<std::uint32_t, std::string>> names() const override;
    Result<std::vector<Answered>> answers() const override;
    Result<std::vector<Key>> keys() const override;
    Result<std::vector<Ticket>> tickets() const override;
    std::vector<std::string> read_what_can_be(Batch& into) const override;
    Result<void> is_whole() const override;
    Result<void> in_its_place() const override;

private:
    struct Connections;
    explicit SqliteLog(std::unique_ptr<Connections> connections);
    static Result<std::unique_ptr<DayLog>> opened_to_write(const std::string& path);
    static Result<std::unique_ptr<DayLog>> opened_to_read(const std::string& path, Access access);
    static Result<std::unique_ptr<DayLog>> opened_elsewhere(const std::string& path, Access access);
    Result<void> connect();
    Result<void> begin(Batch& batch);
    void leave_one_file();
    void write(Batch& batch);
    std::optional<std::string> rows(std::uint64_t after, std::uint64_t up_to,
                                    std::string& hash_before, const TakeRow& take) const override;

    std::unique_ptr<Connections> connections_;
};

}  // namespace fieldpeg::log
