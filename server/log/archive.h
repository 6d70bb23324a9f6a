#pragma once

#include "server/log/day_log.h"
#include "server/log/postgres.h"
#include "server/refusal/refusal.h"

#include <cstdint>
#include <memory>
#include <optional>
#include <string>
#include <vector>

namespace fieldpeg::log {

/// What is kept of a day beside its entries, so that years can be asked about.
struct AboutDay {
    struct Flight {
        std::uint32_t subject = 0;
        std::string channel;
        double power_dbm = 0;
        std::int64_t from_ms = 0;
        double minutes = 0;
    };
    /// Somebody on a frequency, in one way: the log's kind.
    struct Stretch {
        std::uint32_t subject = 0;  ///< 0: nobody that the day knows
        std::string kind;
        double frequency_mhz = 0, power_dbm = 0;
        std::int64_t from_ms = 0, to_ms = 0;
    };
    std::string title, field;
    std::vector<Flight> flights;
    std::vector<Stretch> air;
};

struct ArchivedDay {
    std::int64_t no = 0;  ///< in this archive
    std::string id;       ///< the hash of its entry 1
    std::string title, field;
    std::int64_t begun_ms = 0;
    std::uint64_t entries = 0;
    std::string head;
    bool is_held = false;  ///< by a server
    std::int64_t flights = 0;
    double minutes = 0;
};

/// Days of many fields and years in a database (docs/archive.md). Keys, tickets and answers are
/// never in it. Each of these is done whole or not at all.
class Archive {
public:
    /// To be written, its tables are made where there are none.
    static Result<std::unique_ptr<Archive>> open(const std::string& address, DayLog::Access access);

    struct Pushed {
        ArchivedDay day;
        std::uint64_t were_there = 0;
        bool has_more = false;  ///< the archive has a longer day
    };
    /// What of a day is not in the archive yet. Requires a log that holds. Refuses another course
    /// of a day that is there, and a day that a server holds.
    Result<Pushed> push(const DayLog& log, const AboutDay& about);

    /// A day that servers held, and none holds any more, is one of the archive from now on: its
    /// keys, tickets and answers go. Refuses while a server has it.
    Result<ArchivedDay> close(const ArchivedDay& day, const AboutDay& about);
    /// A day of it, to be read.
    Result<std::unique_ptr<DayLog>> log_of(const ArchivedDay& day) const;

    /// A day by the beginning of its id, in hexadecimal, or by the name under which servers hold
    /// it.
    Result<ArchivedDay> day(const std::string& called);
    /// All of it into a file that is not there yet.
    Result<ArchivedDay> pull(const std::string& called, const std::string& to);

    struct Span {
        std::int64_t from_ms = 0, to_ms = 0;
    };
    Result<std::vector<ArchivedDay>> days(const Span& begun);

    struct Near {
        std::int64_t from_ms = 0, to_ms = 0;
        std::string who, kind;
        double frequency_mhz = 0, power_dbm = 0;
        std::string day_id, title;
    };
    struct NearBy {
        std::string who;
        std::int64_t times = 0, last_ms = 0;
    };
    Result<std::vector<NearBy>> who_was_near(double mhz, double within_mhz, const Span& when);
    Result<std::vector<Near>> last_near(double mhz, double within_mhz, const Span& when,
                                        std::int64_t at_most);

    struct Flown {
        std::string who, channel;
        double power_dbm = 0, minutes = 0;
        std::int64_t from_ms = 0;
        std::string day_id, title;
    };
    struct FlownBy {
        std::string who;
        std::int64_t days = 0, flights = 0, last_ms = 0;
        double minutes = 0;
    };
    /// Of everybody, or of one.
    Result<std::vector<FlownBy>> flown_by(const std::string& who, const Span& when);
    Result<std::vector<Flown>> flights_of(const std::string& who, const Span& when);

    struct Use {
        std::string channel;
        std::int64_t flights = 0, people = 0;
        double minutes = 0;
    };
    Result<std::vector<Use>> channels(const Span& when);

    struct Forgotten {
        std::int64_t names = 0, days = 0;
    };
    /// Takes a name out of all days, or of one; no later push brings it back.
    Result<Forgotten> forget(const std::string& who, const std::string& day);
    /// Takes all names out of days that began so long ago, now and with each push from now on;
    /// none: names are kept.
    Result<Forgotten> expire(std::optional<int> after_years, std::int64_t now_ms);

private:
    explicit Archive(std::unique_ptr<Database> database) : database_(std::move(database)) {}
    Result<Rows> ask(const char* sql, const Values& values = {});
    Result<Forgotten> taken_out(const char* sql, const Values& values);
    Result<Forgotten> expire_what_is_due(std::int64_t now_ms);
    template <class Work>
    auto together(Work work) -> decltype(work());
    Result<Pushed> push_into(std::int64_t no, const std::vector<Entry>& entries,
                             std::uint64_t were_there, const DayLog& log, const AboutDay& about);
    Result<void> agree(std::int64_t no, const std::vector<Entry>& entries,
                       std::uint64_t were_there);
    Result<void> add_entries(std::int64_t no, const std::vector<Entry>& entries,
                             std::uint64_t were_there);
    Result<void> add_names(std::int64_t no, const DayLog& log);
    Result<void> add_flown(std::int64_t no, const AboutDay& about);

    std::unique_ptr<Database> database_;
};

}  // namespace fieldpeg::log
