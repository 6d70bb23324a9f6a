// Both forms of a day's log beside each other, in turns on one machine: an append, a claim as a
// pilot sees it; and an archive of years: how fast days come into it, and what is asked of them.
// Usage: database FIELDPEGD [DAYS [EVENTS]]: a PostgreSQL and servers of its own; prints a table.

#include "client/link/remote.h"
#include "server/log/archive.h"
#include "server/log/hash.h"
#include "tests/log/entries.h"
#include "tests/support/cluster.h"
#include "tests/support/real_server.h"
#include "tests/support/temporary.h"

#include <fmt/format.h>
#include <spdlog/spdlog.h>

#include <algorithm>
#include <chrono>
#include <functional>
#include <memory>
#include <random>
#include <string>
#include <vector>

namespace fieldpeg::testing {
namespace {

using Clock = std::chrono::steady_clock;

double ms(Clock::duration time) {
    return std::chrono::duration<double, std::milli>(time).count();
}

struct Times {
    std::vector<double> all_ms;

    double at(double part) {
        std::ranges::sort(all_ms);
        return all_ms[static_cast<std::size_t>(part * static_cast<double>(all_ms.size() - 1))];
    }
};

void measure(Times& into, const std::function<void()>& what) {
    const auto begun = Clock::now();
    what();
    into.all_ms.push_back(ms(Clock::now() - begun));
}

/// As long as an event and its answer are on a real day.
log::Batch batch_of_size(std::uint64_t first, int events) {
    log::Batch batch;
    for (int i = 0; i < events; ++i) {
        const auto version = first + static_cast<std::uint64_t>(i);
        auto e = entry_of(version);
        e.record = std::string(110, 'r') + std::to_string(version);
        e.frequency_mhz = 5732;
        e.power_dbm = 13.979;
        batch.entries.push_back(std::move(e));
        batch.answers.push_back({3, "once " + std::to_string(version), std::string(200, 'a')});
    }
    return batch;
}

void appends(Cluster& cluster, int events, int rounds) {
    const TemporaryFolder folder;
    const auto address = cluster.new_database();
    auto file = log::DayLog::open(folder.at("d.daylog"), log::DayLog::Access::write).value();
    auto database = log::DayLog::open(address + "#d", log::DayLog::Access::write).value();
    Times of_file, of_database;
    std::uint64_t version = 1;
    for (int i = 0; i < rounds; ++i) {
        for (auto& [log, times] :
             {std::pair(file.get(), &of_file), std::pair(database.get(), &of_database)}) {
            auto batch = batch_of_size(version, events);
            measure(*times, [&, log = log] {
                if (!log->append(batch)) std::exit(1);
            });
        }
        version += static_cast<std::uint64_t>(events);
    }
    fmt::print(
        "append of {:2} events: file p50 {:.2f} p99 {:.2f} ms, database p50 {:.2f} p99 {:.2f} "
        "ms: {:.2f}x, {:.2f}x\n",
        events, of_file.at(0.5), of_file.at(0.99), of_database.at(0.5), of_database.at(0.99),
        of_database.at(0.5) / of_file.at(0.5), of_database.at(0.99) / of_file.at(0.99));
}

/// A whole server, on a log of either form.
class AServer {
public:
    AServer(const std::string& program, const std::string& log) {
        write_file(folder_.at("day.toml"), day_of(12));
        const auto said = folder_.at("said");
        id_ = ::fork();
        if (id_ == 0) {
            if (!std::freopen(said.c_str(), "w", stderr)) std::_Exit(1);
            std::vector<std::string> words{program,       "--day",         folder_.at("day.toml"),
                                           "--listen",    "127.0.0.1:0",   "--board",
                                           "127.0.0.1:0", "--no-discovery"};
            if (!log.empty()) words.insert(words.end(), {"--log", log});
            std::vector<char*> argv;
            for (auto& word : words) argv.push_back(word.data());
            argv.push_back(nullptr);
            ::execv(program.c_str(), argv.data());
            std::_Exit(1);
        }
        port_said(said);
        const auto ticket =
            wire::read_ticket(ticket_of(folder_.at("day.tickets"), "marshal")).value();
        link_ = std::make_unique<link::Remote>(link::join(ticket, "Marshal").value());
    }
    ~AServer() {
        ::kill(id_, SIGTERM);
        ::waitpid(id_, nullptr, 0);
    }
    AServer(const AServer&) = delete;
    AServer& operator=(const AServer&) = delete;

    void claim(int n) {
        v1::Command command;
        command.mutable_claim()->set_transmitter("Pilot 1");
        command.mutable_claim()->mutable_channel()->set_mhz(n % 2 == 0 ? 5880 : 5840);
        command.mutable_claim()->set_power_dbm(14);
        command.mutable_claim()->set_allowed_because("it is measured");
        if (!link_->send(command).claim().claimed()) std::exit(1);
    }

private:
    TemporaryFolder folder_;
    ::pid_t id_ = 0;
    std::unique_ptr<link::Remote> link_;
};

void claims(const std::string& program, Cluster& cluster, int rounds) {
    AServer file(program, ""), database(program, cluster.new_database());
    Times of_file, of_database;
    for (int i = 0; i < rounds; ++i) {
        measure(of_file, [&] { file.claim(i); });
        measure(of_database, [&] { database.claim(i); });
    }
    fmt::print(
        "claim, as a pilot sees it: file p50 {:.2f} p99 {:.2f} ms, database p50 {:.2f} p99 "
        "{:.2f} ms: {:.2f}x, {:.2f}x\n",
        of_file.at(0.5), of_file.at(0.99), of_database.at(0.5), of_database.at(0.99),
        of_database.at(0.5) / of_file.at(0.5), of_database.at(0.99) / of_file.at(0.99));
}

/// A day that was never in a file: ten years of club days, 40 people a day of 600.
class ADay final : public log::DayLog {
public:
    ADay(int number, int events, std::mt19937_64& rng) : path_(fmt::format("day {}", number)) {
        const auto begun_ms = std::int64_t{1'480'000'000'000} + std::int64_t{number} * 31'000'000;
        auto hash = log::no_hash();
        const auto below = [&](int n) { return std::uniform_int_distribution<int>(0, n - 1)(rng); };
        for (int i = 1; i <= events; ++i) {
            log::Entry e;
            e.version = static_cast<std::uint64_t>(i);
            e.at_ms = begun_ms + i * 14'000;
            e.actor = e.subject = static_cast<std::uint32_t>(1 + below(40));
            e.kind = "on_air";
            e.frequency_mhz = 5650 + below(300);
            e.power_dbm = 13.979;
            e.record = fmt::format("day {} entry {} {}", number, i, std::string(90, 'r'));
            hash = e.hash = log::chained(hash, e.record);
            entries_.push_back(std::move(e));
        }
        for (std::uint32_t id = 1; id <= 40; ++id)
            names_[id] = fmt::format("Person {}", below(600));
        about.title = path_;
        about.field = "Meadow";
        for (int i = 0; i < events; i += 16) {
            const auto& e = entries_[static_cast<std::size_t>(i)];
            about.flights.push_back({e.subject, "R3 (5732 MHz)", 13.979, e.at_ms, 5});
            for (int k = 0; k < 2; ++k)
                about.air.push_back(
                    {e.subject, "on_air", *e.frequency_mhz, 13.979, e.at_ms, e.at_ms + 300'000});
        }
    }

    log::AboutDay about;
    const std::string& path() const override { return path_; }
    log::Appended append(log::Batch& /*none*/) override { return {}; }
    Result<std::uint64_t> last_version() const override { return entries_.size(); }
    Result<std::string> head_hash() const override { return entries_.back().hash; }
    Result<std::map<std::uint32_t, std::string>> names() const override { return names_; }
    Result<std::vector<log::Answered>> answers() const override {
        return std::vector<log::Answered>();
    }
    Result<std::vector<log::Key>> keys() const override { return std::vector<log::Key>(); }
    Result<std::vector<log::Ticket>> tickets() const override { return std::vector<log::Ticket>(); }
    Result<void> is_whole() const override { return {}; }
    Result<void> in_its_place() const override { return {}; }

private:
    std::optional<std::string> rows(std::uint64_t after, std::uint64_t up_to,
                                    std::string& hash_before, const TakeRow& take) const override {
        hash_before = after == 0 ? log::no_hash() : entries_[after - 1].hash;
        for (auto i = after; i < std::min<std::uint64_t>(up_to, entries_.size()); ++i)
            if (!take(entries_[i], true)) break;
        return std::nullopt;
    }

    std::string path_;
    std::vector<log::Entry> entries_;
    std::map<std::uint32_t, std::string> names_;
};

void archive_of(Cluster& cluster, int days, int events) {
    const auto address = cluster.new_database();
    auto archive = log::Archive::open(address, log::DayLog::Access::write).value();
    std::mt19937_64 rng(1);
    double pushing_ms = 0;
    std::int64_t last_ms = 0;
    for (int i = 0; i < days; ++i) {
        const ADay day(i, events, rng);
        const auto begun = Clock::now();
        if (const auto pushed = archive->push(day, day.about); !pushed) {
            std::cerr << pushed.error().why << '\n';
            std::exit(1);
        }
        pushing_ms += ms(Clock::now() - begun);
        last_ms = day.about.flights.back().from_ms;
    }
    cluster.run(address, "VACUUM ANALYZE");
    fmt::print(
        "archive: {} days of {} entries pushed in {:.1f} s, {:.0f} entries/s, {:.0f} ms a day; "
        "{} on disk\n",
        days, events, pushing_ms / 1000, days * events / pushing_ms * 1000, pushing_ms / days,
        cluster.run(address, "SELECT pg_size_pretty(pg_database_size(current_database()))"));
    constexpr std::int64_t year_ms = std::int64_t{365} * 24 * 3'600'000;
    const log::Archive::Span year{last_ms - year_ms, last_ms};
    const log::Archive::Span always{0, last_ms};
    const auto asked = [&](const char* what, const std::function<std::size_t()>& ask) {
        ask();
        Times times;
        std::size_t rows = 0;
        for (int i = 0; i < 5; ++i) measure(times, [&] { rows = ask(); });
        fmt::print("  {:<52} {:8.1f} ms, {} rows\n", what, times.at(0.5), rows);
    };
    asked("who was within 10 MHz of 5800 in the last year",
          [&] { return archive->who_was_near(5800, 10, year).value().size(); });
    asked("the last 100 of them",
          [&] { return archive->last_near(5800, 10, year, 100).value().size(); });
    asked("who flew in the last year", [&] { return archive->flown_by("", year).value().size(); });
    asked("one person over all days",
          [&] { return archive->flights_of("person 17", always).value().size(); });
    asked("each channel's use, all days", [&] { return archive->channels(always).value().size(); });
    const auto one = archive->days(always).value().at(0);
    asked("a day's entries in order, its chain held", [&] {
        const auto log = archive->log_of(one).value();
        std::size_t n = 0;
        if (!log->each(0, UINT64_MAX, [&](const log::Entry&) { return ++n, true; })) std::exit(1);
        return n;
    });
}

}  // namespace
}  // namespace fieldpeg::testing

int main(int argc, char** argv) {
    using namespace fieldpeg::testing;
    if (argc < 2) {
        std::cerr << "usage: database FIELDPEGD [DAYS [EVENTS]]\n";
        return 2;
    }
    spdlog::set_level(spdlog::level::warn);
    Cluster cluster(Cluster::Sync::on);
    appends(cluster, 1, 1000);
    appends(cluster, 32, 300);
    claims(argv[1], cluster, 400);
    archive_of(cluster, argc > 2 ? std::atoi(argv[2]) : 200, argc > 3 ? std::atoi(argv[3]) : 2000);
    return 0;
}
