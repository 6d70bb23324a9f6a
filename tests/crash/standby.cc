// Two servers of one day in a database: one is killed, stopped or woken, or the database is, while
// four clients ask all the time. Whatever was answered with yes must be in the log once, under its
// asker's words; the chain holds; nobody writes under a term that is over.
// Usage: standby FIELDPEGD ROUNDS [FAULT ...]; prints, for each fault, how long until the first
// yes.

#include "client/link/remote.h"
#include "server/log/postgres_log.h"
#include "tests/support/cluster.h"
#include "tests/support/real_server.h"
#include "tests/support/temporary.h"

#include "fieldpeg/v1/event.pb.h"

#include <fmt/format.h>
#include <spdlog/spdlog.h>

#include <algorithm>
#include <atomic>
#include <chrono>
#include <functional>
#include <iterator>
#include <map>
#include <mutex>
#include <set>
#include <stdexcept>
#include <string>
#include <thread>
#include <vector>

namespace fieldpeg::testing {
namespace {

using Clock = std::chrono::steady_clock;
using namespace std::chrono_literals;

constexpr int clients = 4;

/// Thrown, so that servers and database end too.
[[noreturn]] void fail(const std::string& why) {
    throw std::runtime_error(why);
}

void must(bool holds, const std::string& what) {
    if (!holds) fail(what);
}

/// A port that nobody has now, and the next neither, most likely.
std::uint16_t free_port() {
    boost::asio::io_context io;
    boost::asio::ip::tcp::acceptor one(io, {boost::asio::ip::address_v4::loopback(), 0});
    return one.local_endpoint().port();
}

/// One of the two.
class OneServer {
public:
    OneServer(std::string program, std::string day, std::string place, std::string said)
        : program_(std::move(program)),
          day_(std::move(day)),
          place_(std::move(place)),
          said_(std::move(said)),
          port_(free_port()) {}
    ~OneServer() { kill(SIGKILL); }
    OneServer(const OneServer&) = delete;
    OneServer& operator=(const OneServer&) = delete;

    void start() {
        const auto listen = fmt::format("127.0.0.1:{}", port_);
        id_ = ::fork();
        if (id_ != 0) return;
        if (!std::freopen(said_.c_str(), "a", stderr)) std::_Exit(1);
        ::execl(program_.c_str(), program_.c_str(), "--day", day_.c_str(), "--log", place_.c_str(),
                "--follow", "--listen", listen.c_str(), "--board", "none", "--no-discovery",
                nullptr);
        std::_Exit(1);
    }
    void signal(int number) const { ::kill(id_, number); }
    void kill(int number) {
        if (id_ <= 0) return;
        ::kill(id_, SIGCONT);
        ::kill(id_, number);
        ::waitpid(id_, nullptr, 0);
        id_ = 0;
    }
    /// Killed, or at an end by itself: who cannot find out what became of an append ends.
    void start_if_ended() {
        if (id_ != 0 && ::waitpid(id_, nullptr, WNOHANG) == id_) id_ = 0;
        if (id_ == 0) start();
    }
    std::string address() const { return fmt::format("127.0.0.1:{}", port_); }
    std::uint16_t port() const { return port_; }
    std::string said() const { return text_of_file(said_); }

private:
    const std::string program_, day_, place_, said_;
    const std::uint16_t port_;
    ::pid_t id_ = 0;
};

/// What was answered with yes, and when.
struct Yes {
    std::string words;
    std::uint64_t version;
    Clock::time_point asked, at;
};

/// Asks until it is told to stop.
class Asking {
public:
    Asking(v1::Membership as, int number)
        : link_(std::move(as)), number_(number), thread_([this] { ask(); }) {}
    ~Asking() { stop(); }
    Asking(const Asking&) = delete;
    Asking& operator=(const Asking&) = delete;

    void stop() {
        ends_ = true;
        if (thread_.joinable()) thread_.join();
    }
    std::vector<Yes> all() {
        const std::lock_guard lock(one_at_a_time_);
        return all_;
    }
    long asked() const { return n_; }

private:
    void ask() {
        while (!ends_) {
            const auto words = fmt::format("client {} asks {}", number_, ++n_);
            const auto whose = fmt::format("Pilot {}", number_ * 4 + 1);
            v1::Command claim;
            claim.mutable_claim()->set_transmitter(whose);
            claim.mutable_claim()->mutable_channel()->set_mhz(5650 + number_ * 60);
            claim.mutable_claim()->set_power_dbm(14);
            claim.mutable_claim()->set_allowed_because("it is tried");
            if (!link_.send(claim).has_claim()) continue;
            v1::Command release;
            release.mutable_release()->set_transmitter(whose);
            release.mutable_release()->set_reason(words);
            const auto asked = Clock::now();
            const auto reply = link_.send(release);
            if (!reply.has_done()) continue;
            const std::lock_guard lock(one_at_a_time_);
            all_.push_back({words, reply.version(), asked, Clock::now()});
        }
    }

    link::Remote link_;
    const int number_;
    std::atomic<bool> ends_ = false;
    std::atomic<long> n_ = 0;
    std::mutex one_at_a_time_;
    std::vector<Yes> all_;
    std::thread thread_;
};

class Field {
public:
    explicit Field(const std::string& program)
        : address_(cluster_.new_database()),
          place_(address_ + "#day"),
          one_(program, begun(), place_, folder_.at("one")),
          two_(program, folder_.at("day.toml"), place_, folder_.at("two")) {
        one_.start();
        wait_for(one_, "stop with Ctrl-C");
        two_.start();
        wait_for(two_, "waiting beside it");
        const auto text = ticket_of(folder_.at("day.tickets"), "marshal");
        const auto ticket = wire::read_ticket(text).value();
        for (int i = 0; i < clients; ++i)
            asking_.push_back(std::make_unique<Asking>(
                link::join(ticket, fmt::format("Marshal {}", i)).value(), i));
    }

    Cluster& cluster() { return cluster_; }
    /// Whoever has the day, and who waits.
    std::pair<OneServer&, OneServer&> servers() {
        for (int i = 0; i < 200; ++i, std::this_thread::sleep_for(20ms)) {
            const auto holder = sql("SELECT holder FROM day");
            if (holder == one_.address()) return {one_, two_};
            if (holder == two_.address()) return {two_, one_};
        }
        fail("nobody has the day:\n" + one_.said() + "\n" + two_.said());
    }
    std::int64_t term() { return std::stoll(sql("SELECT term FROM day")); }
    /// Until somebody was answered with yes to what they asked after `since`.
    std::chrono::milliseconds first_yes(Clock::time_point since, std::chrono::milliseconds within) {
        for (const auto until = Clock::now() + within; Clock::now() < until;
             std::this_thread::sleep_for(2ms)) {
            auto first = Clock::time_point::max();
            for (const auto& one : asking_)
                for (const auto& yes : one->all())
                    if (yes.at > since) first = std::min(first, yes.at);
            if (first != Clock::time_point::max())
                return std::chrono::duration_cast<std::chrono::milliseconds>(first - since);
        }
        fail("no yes any more:\n" + one_.said() + "\n" + two_.said());
    }
    /// Whoever ended comes back.
    void until_someone_waits() {
        for (int i = 0; i < 500; ++i, std::this_thread::sleep_for(20ms)) {
            one_.start_if_ended();
            two_.start_if_ended();
            if (sql("SELECT count(*) FROM standby WHERE seen > now() - interval '1500 ms'") != "0")
                return;
        }
        fail("nobody waits:\n" + one_.said() + "\n" + two_.said());
    }
    std::size_t check() {
        std::vector<Yes> told;  // before the log is read: it goes on
        for (const auto& one : asking_) std::ranges::copy(one->all(), std::back_inserter(told));
        const auto log = log::DayLog::open(place_, log::DayLog::Access::read).value();
        std::map<std::string, std::pair<int, std::uint64_t>> found;
        const auto read = log->each(0, UINT64_MAX, [&](const log::Entry& e) {
            v1::Event event;
            must(event.ParseFromString(e.record), "an entry is no event");
            auto& [count, version] = found[event.released().reason()];
            ++count;
            version = e.version;
            return true;
        });
        must(read.has_value(), "the chain does not hold");
        for (const auto& yes : told) {
            const auto& [count, version] = found[yes.words];
            must(count == 1, fmt::format("'{}' was answered with yes and is in the log {} times",
                                         yes.words, count));
            must(version <= yes.version, "answered before it was written");
        }
        must(sql("SELECT count(*) FROM (SELECT term, max(term) OVER (ORDER BY version) m FROM "
                 "event) x WHERE term < m") == "0",
             "written under a term that was over");
        return told.size();
    }
    std::string sql(const std::string& text) {
        return cluster_.run(address_, "SET search_path TO fieldpeg; " + text);
    }

private:
    std::string begun() {
        write_file(folder_.at("day.toml"), day_of(16));
        return folder_.at("day.toml");
    }
    void wait_for(const OneServer& server, const std::string& words) {
        for (int i = 0; i < 1000; ++i, std::this_thread::sleep_for(20ms))
            if (server.said().find(words) != std::string::npos) return;
        fail("does not come up: " + server.said());
    }

    Cluster cluster_{Cluster::Sync::on};
    TemporaryFolder folder_;
    const std::string address_, place_;
    OneServer one_, two_;
    std::vector<std::unique_ptr<Asking>> asking_;
};

/// What is done, and what is undone once somebody is answered again. From when the time counts.
struct Fault {
    const char* name;
    std::function<Clock::time_point(Field&)> happens;
};

Clock::time_point kill_holder(Field& field) {
    auto [holder, waiting] = field.servers();
    holder.kill(SIGKILL);
    return Clock::now();
}

/// Woken once another has the day: then it is asked, and must not answer as if it still had it.
Clock::time_point stop_holder(Field& field) {
    auto [holder, waiting] = field.servers();
    const auto term = field.term();
    holder.signal(SIGSTOP);
    const auto at = Clock::now();
    while (field.term() == term && Clock::now() < at + 20s) std::this_thread::sleep_for(20ms);
    must(field.term() == term + 1, "nobody took the day over:\n" + waiting.said());
    std::this_thread::sleep_for(200ms);
    holder.signal(SIGCONT);
    return at;
}

Clock::time_point kill_database(Field& field) {
    field.cluster().kill();
    std::this_thread::sleep_for(700ms);
    field.cluster().start();
    return Clock::now();
}

Clock::time_point freeze_database(Field& field) {
    field.cluster().freeze();
    std::this_thread::sleep_for(4s);
    field.cluster().thaw();
    return Clock::now();
}

Clock::time_point kill_both(Field& field) {
    auto [holder, waiting] = field.servers();
    holder.kill(SIGKILL);
    field.cluster().kill();
    std::this_thread::sleep_for(300ms);
    field.cluster().start();
    const auto at = Clock::now();
    holder.start();
    return at;
}

const Fault faults[] = {{"the holder is killed", kill_holder},
                        {"the holder stands still, and wakes", stop_holder},
                        {"the database is killed", kill_database},
                        {"the database stands still", freeze_database},
                        {"holder and database are killed", kill_both}};

void play(const std::string& program, int rounds, const Fault& fault) {
    Field field(program);
    std::vector<long> times_ms;
    std::size_t answered = 0;
    for (int i = 0; i < rounds; ++i) {
        field.until_someone_waits();
        std::this_thread::sleep_for(300ms);
        const auto since = fault.happens(field);
        times_ms.push_back(field.first_yes(since, 30s).count());
        answered = field.check();
    }
    std::ranges::sort(times_ms);
    fmt::print(
        "{:<36} {:>4} rounds, first yes after {} / {} / {} ms, {} answered, none lost, none "
        "twice, none under a term that was over\n",
        fault.name, rounds, times_ms.front(), times_ms[times_ms.size() / 2], times_ms.back(),
        answered);
    std::fflush(stdout);
}

}  // namespace
}  // namespace fieldpeg::testing

int main(int argc, char** argv) {
    using namespace fieldpeg::testing;
    spdlog::set_level(spdlog::level::warn);
    if (argc < 3) {
        std::cerr << "usage: standby FIELDPEGD ROUNDS [NUMBER OF A FAULT ...]\n";
        return 2;
    }
    std::set<int> wanted;
    for (int i = 3; i < argc; ++i) wanted.insert(std::atoi(argv[i]));
    int number = 0;
    try {
        for (const auto& fault : faults)
            if (++number; wanted.empty() || wanted.contains(number))
                play(argv[1], std::atoi(argv[2]), fault);
    } catch (const std::exception& failure) {
        std::cerr << "standby: " << failure.what() << '\n';
        return 1;
    }
    return 0;
}
