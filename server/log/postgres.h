#pragma once

#include "server/refusal/refusal.h"

#include <chrono>
#include <cstdint>
#include <memory>
#include <optional>
#include <stdexcept>
#include <string>
#include <string_view>
#include <vector>

/// libpq, as far as logs need it: everything binary, and nothing waits for longer than it is given.
struct pg_conn;
struct pg_result;

namespace fieldpeg::log {

/// Parameters $1, $2, ... of one statement.
class Values {
public:
    Values& add(std::int64_t number);             // bigint
    Values& add(std::optional<double> number);    // float8
    Values& add(std::string_view bytes_or_text);  // bytea or text
    Values& add(const char* text) { return add(std::string_view(text)); }

private:
    friend class Database;
    std::vector<std::optional<std::string>> values_;
};

/// What came back.
class Rows {
public:
    explicit Rows(pg_result* result);

    int size() const;
    /// How many rows a statement changed.
    int changed() const;
    bool is_null(int row, int column) const;
    std::int64_t number(int row, int column) const;  ///< smallint, integer, bigint, or boolean
    double real(int row, int column) const;
    std::string bytes(int row, int column) const;  ///< bytea or text

private:
    struct Free {
        void operator()(pg_result* result) const;
    };
    std::unique_ptr<pg_result, Free> result_;
};

/// Why the database did not do something.
struct DatabaseError {
    std::string state;  ///< SQLSTATE; empty: the connection is lost, or nothing came in time
    std::string text;

    bool is_lost() const { return state.empty(); }
};

/// What Told<T>::value() does when there is none: not having looked first is our own mistake.
[[noreturn]] inline void throw_exception_from_error(const DatabaseError& error,
                                                    const boost::source_location&) {
    throw std::logic_error("unchecked error of a database: " + error.text);
}

template <class T>
using Told = boost::system::result<T, DatabaseError>;

/// One connection. Not for two threads at once.
class Database {
public:
    using Limit = std::chrono::milliseconds;
    static constexpr Limit limit_default{5000};

    /// `what_for` is how the database's own tables call the connection. Refuses where nobody
    /// answers, or lets us in.
    static Result<std::unique_ptr<Database>> connect(const std::string& address,
                                                     const char* what_for);
    ~Database();
    Database(const Database&) = delete;
    Database& operator=(const Database&) = delete;

    bool is_up() const;
    int backend() const;
    int socket() const;
    const std::string& address() const { return address_; }
    const std::string& shown() const { return shown_; }

    Told<Rows> ask(const char* sql, const Values& values = {}, Limit limit = limit_default);
    /// Several statements without values.
    Told<void> run(const std::string& sql, Limit limit = limit_default);
    /// A statement under a name, to be used again.
    Told<void> prepare(const char* name, const char* sql);
    /// Without waiting; `arrived` says when its answer is there.
    bool send(const char* sql);
    bool arrived();

    /// Statements that are done together or not at all, in one round trip.
    class Together {
    public:
        explicit Together(Database& database);
        /// One that was prepared.
        void add(const char* name, const Values& values);
        /// Durable when there is no error.
        Told<void> done(Limit limit);

    private:
        Database& database_;
        bool is_sent_ = true;
    };

    /// Rows into a table. The text form of COPY.
    Told<void> copy(const char* sql, std::string_view rows, Limit limit);

    /// Whether a commit was said to be done that a standby does not have.
    bool was_left_alone() const { return was_left_alone_; }

    /// The error in the words of the day.
    Refusal refusal(const DatabaseError& error) const;

private:
    Database(std::string address, std::string shown)
        : address_(std::move(address)), shown_(std::move(shown)) {}
    DatabaseError error() const;
    DatabaseError error_of(const pg_result* result) const;
    bool flush(std::chrono::steady_clock::time_point until);
    /// The next result; null: there is none any more, or not in time (`in_time`).
    pg_result* next(std::chrono::steady_clock::time_point until, bool& in_time);
    Told<Rows> answer(std::chrono::steady_clock::time_point until);
    static void take_notice(void* self, const pg_result* notice);

    struct Finish {
        void operator()(pg_conn* connection) const;
    };
    std::unique_ptr<pg_conn, Finish> connection_;
    std::string address_, shown_;
    bool was_left_alone_ = false;
};

/// Each row as what it stands for.
template <class One, class Make>
Result<std::vector<One>> each_of(const Result<Rows>& rows, Make make) {
    if (!rows) return rows.error();
    std::vector<One> all;
    all.reserve(static_cast<std::size_t>(rows->size()));
    for (int i = 0; i < rows->size(); ++i) all.push_back(make(*rows, i));
    return all;
}

/// Bytes as they stand in the text form of COPY.
std::string copy_bytes(std::string_view bytes);
std::string copy_text(std::string_view text);
/// As the text form of an array has them, whatever is in them.
std::string array_text(const std::vector<std::string>& elements);

}  // namespace fieldpeg::log
