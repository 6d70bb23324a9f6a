#include "server/log/postgres.h"

#include "server/log/database_place.h"
#include "server/log/hash.h"

#include <endian.h>
#include <fmt/format.h>
#include <libpq-fe.h>
#include <poll.h>

#include <algorithm>
#include <array>
#include <bit>
#include <cstdlib>
#include <cstring>
#include <utility>

namespace fieldpeg::log {
namespace {

using Clock = std::chrono::steady_clock;

template <class Number>
std::string in_network_order(Number number) {
    return {reinterpret_cast<const char*>(&number), sizeof number};
}

constexpr int binary = 1;

/// Parameters as libpq takes them.
struct Sent {
    explicit Sent(const std::vector<std::optional<std::string>>& values) {
        for (const auto& value : values) {
            at.push_back(value ? value->data() : nullptr);
            sizes.push_back(value ? static_cast<int>(value->size()) : 0);
            formats.push_back(binary);
        }
    }
    int size() const { return static_cast<int>(at.size()); }

    std::vector<const char*> at;
    std::vector<int> sizes, formats;
};

/// Lines as libpq has them, in one.
std::string one_line(std::string text) {
    std::ranges::replace(text, '\n', ' ');
    while (!text.empty() && text.back() == ' ') text.pop_back();
    return text;
}

}  // namespace

Values& Values::add(std::int64_t number) {
    values_.emplace_back(in_network_order(htobe64(std::bit_cast<std::uint64_t>(number))));
    return *this;
}

Values& Values::add(std::optional<double> number) {
    if (number)
        values_.emplace_back(in_network_order(htobe64(std::bit_cast<std::uint64_t>(*number))));
    else
        values_.emplace_back();
    return *this;
}

Values& Values::add(std::string_view bytes_or_text) {
    values_.emplace_back(bytes_or_text);
    return *this;
}

void Rows::Free::operator()(pg_result* result) const {
    PQclear(result);
}

Rows::Rows(pg_result* result) : result_(result) {}

int Rows::size() const {
    return PQntuples(result_.get());
}

int Rows::changed() const {
    return std::atoi(PQcmdTuples(result_.get()));
}

bool Rows::is_null(int row, int column) const {
    return PQgetisnull(result_.get(), row, column) != 0;
}

std::string Rows::bytes(int row, int column) const {
    return {PQgetvalue(result_.get(), row, column),
            static_cast<std::size_t>(PQgetlength(result_.get(), row, column))};
}

std::int64_t Rows::number(int row, int column) const {
    const char* at = PQgetvalue(result_.get(), row, column);
    std::uint64_t number = 0;
    const int size = PQgetlength(result_.get(), row, column);
    for (int i = 0; i < size; ++i) number = number << 8U | static_cast<unsigned char>(at[i]);
    constexpr int integer_bytes = 4;
    if (size == integer_bytes) return static_cast<std::int32_t>(number);
    return std::bit_cast<std::int64_t>(number);
}

double Rows::real(int row, int column) const {
    return std::bit_cast<double>(number(row, column));
}

void Database::Finish::operator()(pg_conn* connection) const {
    PQfinish(connection);
}

Result<std::unique_ptr<Database>> Database::connect(const std::string& address,
                                                    const char* what_for) {
    const auto shown = database_place(address).shown();
    // No answer comes late: a connection that hangs is as good as none.
    const std::array keys{"dbname",
                          "application_name",
                          "fallback_application_name",
                          "connect_timeout",
                          "keepalives_idle",
                          "keepalives_interval",
                          "keepalives_count",
                          "tcp_user_timeout",
                          "client_encoding",
                          static_cast<const char*>(nullptr)};
    const std::array values{address.c_str(),
                            what_for,
                            "fieldpeg",
                            "2",
                            "2",
                            "1",
                            "3",
                            "3000",
                            "UTF8",
                            static_cast<const char*>(nullptr)};
    std::unique_ptr<Database> database(new Database(address, shown));
    constexpr int expand_dbname = 1;
    database->connection_.reset(PQconnectdbParams(keys.data(), values.data(), expand_dbname));
    auto* c = database->connection_.get();
    if (PQstatus(c) != CONNECTION_OK) {
        const bool is_password = PQconnectionNeedsPassword(c) != 0 ||
                                 std::strstr(PQerrorMessage(c), "password") != nullptr;
        return Refusal{is_password ? Refusal::Kind::not_permitted : Refusal::Kind::unavailable,
                       shown, "cannot be reached: " + one_line(PQerrorMessage(c)),
                       is_password ? "user and password as libpq finds them: in the address, "
                                     "PGPASSWORD, or ~/.pgpass (mode 0600)"
                                   : "is it running, and is the address right?"};
    }
    constexpr int oldest_version = 150000;
    if (PQserverVersion(c) < oldest_version)
        return Refusal{Refusal::Kind::unavailable, shown,
                       fmt::format("is PostgreSQL {}", PQserverVersion(c) / 10000),
                       "PostgreSQL 15 or later"};
    PQsetNoticeReceiver(c, take_notice, database.get());
    PQsetnonblocking(c, 1);
    if (const auto set = database->run("SET search_path TO fieldpeg"); !set)
        return database->refusal(set.error());
    return database;
}

Database::~Database() = default;

/// A commit that gave up waiting for the standby is said in a warning only.
void Database::take_notice(void* self, const pg_result* notice) {
    const char* text = PQresultErrorField(notice, PG_DIAG_MESSAGE_PRIMARY);
    const char* state = PQresultErrorField(notice, PG_DIAG_SQLSTATE);
    const bool is_of_that = (state && std::strcmp(state, "01000") == 0) &&
                            (text && std::strstr(text, "synchronous replication"));
    if (is_of_that) static_cast<Database*>(self)->was_left_alone_ = true;
}

bool Database::is_up() const {
    return PQstatus(connection_.get()) == CONNECTION_OK;
}

int Database::backend() const {
    return PQbackendPID(connection_.get());
}

int Database::socket() const {
    return PQsocket(connection_.get());
}

DatabaseError Database::error() const {
    return {"", one_line(PQerrorMessage(connection_.get()))};
}

DatabaseError Database::error_of(const pg_result* result) const {
    const char* state = PQresultErrorField(result, PG_DIAG_SQLSTATE);
    const char* text = PQresultErrorField(result, PG_DIAG_MESSAGE_PRIMARY);
    if (!state) return {"", one_line(PQresultErrorMessage(result))};
    return {state, text ? text : ""};
}

bool Database::flush(Clock::time_point until) {
    auto* c = connection_.get();
    for (int left = PQflush(c); left != 0; left = PQflush(c)) {
        if (left < 0) return false;
        const auto wait =
            std::chrono::ceil<std::chrono::milliseconds>(until - Clock::now()).count();
        if (wait <= 0) return false;
        pollfd ready{PQsocket(c), POLLIN | POLLOUT, 0};
        ::poll(&ready, 1, static_cast<int>(wait));
        if ((ready.revents & POLLIN) != 0 && PQconsumeInput(c) == 0) return false;
    }
    return true;
}

pg_result* Database::next(Clock::time_point until, bool& in_time) {
    auto* c = connection_.get();
    in_time = true;
    while (PQisBusy(c) != 0) {
        const auto wait =
            std::chrono::ceil<std::chrono::milliseconds>(until - Clock::now()).count();
        pollfd ready{PQsocket(c), POLLIN, 0};
        if (wait <= 0 || ::poll(&ready, 1, static_cast<int>(wait)) == 0) {
            in_time = false;
            return nullptr;
        }
        if (PQconsumeInput(c) == 0) break;  // the result says why
    }
    return PQgetResult(c);
}

Told<Rows> Database::answer(Clock::time_point until) {
    if (!flush(until)) {
        auto why = error();
        connection_.reset();
        return why;
    }
    std::optional<Rows> rows;
    std::optional<DatabaseError> wrong;
    bool in_time = true;
    while (auto* result = next(until, in_time)) {
        const auto status = PQresultStatus(result);
        Rows one(result);
        const bool is_good =
            status == PGRES_TUPLES_OK || status == PGRES_COMMAND_OK || status == PGRES_COPY_IN;
        if (!is_good && !wrong) wrong = error_of(result);
        if (is_good && !rows) rows = std::move(one);
        if (status == PGRES_COPY_IN || !is_up()) break;
    }
    if (!in_time) {
        connection_.reset();  // what it does is not known any more
        return DatabaseError{"", "does not answer in time"};
    }
    if (wrong) return *std::move(wrong);
    if (!rows) return error();
    return *std::move(rows);
}

Told<Rows> Database::ask(const char* sql, const Values& values, Limit limit) {
    const Sent sent(values.values_);
    if (PQsendQueryParams(connection_.get(), sql, sent.size(), nullptr, sent.at.data(),
                          sent.sizes.data(), sent.formats.data(), binary) == 0)
        return error();
    return answer(Clock::now() + limit);
}

Told<void> Database::prepare(const char* name, const char* sql) {
    if (PQsendPrepare(connection_.get(), name, sql, 0, nullptr) == 0) return error();
    const auto done = answer(Clock::now() + limit_default);
    return done ? Told<void>() : Told<void>(done.error());
}

Told<void> Database::run(const std::string& sql, Limit limit) {
    if (PQsendQuery(connection_.get(), sql.c_str()) == 0) return error();
    const auto done = answer(Clock::now() + limit);
    return done ? Told<void>() : Told<void>(done.error());
}

bool Database::send(const char* sql) {
    return PQsendQuery(connection_.get(), sql) != 0 && PQflush(connection_.get()) >= 0;
}

bool Database::arrived() {
    auto* c = connection_.get();
    if (PQconsumeInput(c) == 0) return false;
    PQflush(c);
    if (PQisBusy(c) != 0) return false;
    bool is_good = false;
    while (auto* result = PQgetResult(c)) {
        is_good = is_good || PQresultStatus(result) == PGRES_TUPLES_OK;
        PQclear(result);
    }
    return is_good;
}

Database::Together::Together(Database& database) : database_(database) {
    database_.was_left_alone_ = false;
    is_sent_ = PQenterPipelineMode(database_.connection_.get()) == 1;
}

void Database::Together::add(const char* name, const Values& values) {
    if (!is_sent_) return;
    const Sent sent(values.values_);
    is_sent_ = PQsendQueryPrepared(database_.connection_.get(), name, sent.size(), sent.at.data(),
                                   sent.sizes.data(), sent.formats.data(), binary) == 1;
}

/// Not the statements' own answers count, but that of the end: only then it is durable.
Told<void> Database::Together::done(Limit limit) {
    auto* c = database_.connection_.get();
    const auto until = Clock::now() + limit;
    if (!is_sent_ || PQpipelineSync(c) != 1 || !database_.flush(until)) {
        auto why = database_.error();
        database_.connection_.reset();
        return why;
    }
    std::optional<DatabaseError> wrong;
    bool in_time = true;
    while (database_.is_up()) {
        auto* result = database_.next(until, in_time);
        if (!in_time) break;
        if (!result) continue;  // between two statements
        const auto status = PQresultStatus(result);
        if (status == PGRES_FATAL_ERROR && !wrong) wrong = database_.error_of(result);
        PQclear(result);
        if (status == PGRES_PIPELINE_SYNC) {
            PQexitPipelineMode(c);
            if (wrong) return *std::move(wrong);
            if (database_.was_left_alone_)
                return DatabaseError{"", "the second copy of the database did not take it"};
            return {};
        }
        const bool server_goes = wrong && wrong->state.starts_with("57P");
        if (server_goes) break;
    }
    DatabaseError why = wrong && in_time ? *wrong : database_.error();
    if (!in_time) why.text = "does not answer in time";
    why.state.clear();
    database_.connection_.reset();  // what it does is not known any more
    return why;
}

Told<void> Database::copy(const char* sql, std::string_view rows, Limit limit) {
    const auto until = Clock::now() + limit;
    auto* c = connection_.get();
    if (auto begun = run(sql, limit); !begun) return begun;
    constexpr std::size_t piece = 1 << 20;
    for (std::size_t at = 0; at < rows.size(); at += piece) {
        const auto part = rows.substr(at, piece);
        int put = 0;
        while ((put = PQputCopyData(c, part.data(), static_cast<int>(part.size()))) == 0)
            if (!flush(until)) break;
        if (put != 1) return error();
    }
    if (PQputCopyEnd(c, nullptr) == -1) return error();
    const auto done = answer(until);
    return done ? Told<void>() : Told<void>(done.error());
}

Refusal Database::refusal(const DatabaseError& error) const {
    const auto is = [&](const char* state) { return error.state.starts_with(state); };
    using Kind = Refusal::Kind;
    if (error.is_lost())
        return {Kind::unavailable, shown_, "does not answer: " + error.text,
                "is it running? Everything said before is kept in it"};
    if (is("42501"))
        return {Kind::not_permitted, shown_, "does not let us do this: " + error.text,
                "docs/database.md says which rights are needed"};
    if (is("53100"))
        return {Kind::unavailable, shown_, "has no room left; nothing of this was recorded",
                "make room on its disk; everything said before is kept"};
    if (is("25006"))
        return {Kind::unavailable, shown_, "is a copy that only follows another database",
                "name the one that is written, or make this one the first"};
    return {Kind::unavailable, shown_, "refused it: " + error.text + " (" + error.state + ")",
            "nothing of this was recorded"};
}

std::string array_text(const std::vector<std::string>& elements) {
    std::string array;
    for (const auto& element : elements) {
        array += array.empty() ? "\"" : ",\"";
        for (const char c : element) {
            if (c == '"' || c == '\\') array += '\\';
            array += c;
        }
        array += '"';
    }
    return "{" + array + "}";
}

std::string copy_text(std::string_view text) {
    std::string copied;
    for (const char c : text) switch (c) {
            case '\\':
                copied += "\\\\";
                break;
            case '\n':
                copied += "\\n";
                break;
            case '\r':
                copied += "\\r";
                break;
            case '\t':
                copied += "\\t";
                break;
            default:
                copied += c;
        }
    return copied;
}

std::string copy_bytes(std::string_view bytes) {
    return "\\\\x" + hex(bytes);
}

}  // namespace fieldpeg::log
