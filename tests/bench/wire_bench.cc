// A claim's way over TLS to the disk and back, against the floor: a TLS echo of the same size and
// one commit. A change's way to 500 watchers. Memory of a connection.

#include "client/link/remote.h"
#include "server/log/day_log.h"
#include "server/wire/frame_channel.h"
#include "server/wire/identity.h"
#include "tests/support/days.h"
#include "tests/support/server.h"
#include "tests/support/temporary.h"

#include <benchmark/benchmark.h>
#include <boost/asio/connect.hpp>
#include <boost/asio/io_context.hpp>
#include <boost/asio/read.hpp>
#include <boost/asio/write.hpp>

#include <sys/resource.h>
#include <unistd.h>
#include <algorithm>
#include <chrono>
#include <fstream>
#include <memory>
#include <string>
#include <thread>
#include <vector>

namespace fieldpeg {
namespace {

namespace asio = boost::asio;
using asio::ip::tcp;
using Clock = std::chrono::steady_clock;

double microseconds(Clock::duration time) {
    return std::chrono::duration<double, std::micro>(time).count();
}

double median(std::vector<double> all) {
    std::ranges::sort(all);
    return all.empty() ? 0 : all[all.size() / 2];
}

std::string day_of(int pilots) {
    std::string text = testing::field_text();
    for (int i = 0; i < pilots; ++i)
        text += testing::text_of(testing::PilotText{.name = "pilot " + std::to_string(i),
                                                    .place = "line-" + std::to_string(i % 4 + 1),
                                                    .channel = "R" + std::to_string(i % 8 + 1),
                                                    .stage = "",
                                                    .more_video = "power_mw = [25]"});
    return text;
}

/// A server on a day with so many pilots.
struct Served {
    explicit Served(int pilots) : server(written(pilots)) {}

    std::string written(int pilots) const {
        const auto day = folder.at("day.toml");
        testing::write_file(day, day_of(pilots));
        return day;
    }

    testing::TemporaryFolder folder;
    testing::Server server;
};

v1::Command claim(int i) {
    v1::Command c;
    c.mutable_claim()->set_transmitter("pilot 0");
    c.mutable_claim()->mutable_channel()->set_name(i % 2 == 0 ? "F2" : "F6");
    c.mutable_claim()->mutable_channel()->set_mhz(i % 2 == 0 ? 5760 : 5840);
    c.mutable_claim()->set_power_dbm(13.979400086720376);
    c.mutable_claim()->set_yes_anyway(true);
    c.mutable_claim()->set_allowed_because("measured");
    return c;
}

void claim_over_tls(benchmark::State& state) {
    const Served day(static_cast<int>(state.range(0)));
    link::Remote marshal(day.server.joined(v1::Role::marshal, "Marshal"));
    marshal.send(claim(1));
    std::vector<double> times;
    int i = 0;
    for (auto _ : state) {
        const auto begin = Clock::now();
        const auto reply = marshal.send(claim(i++));
        times.push_back(microseconds(Clock::now() - begin));
        if (!reply.claim().claimed()) state.SkipWithError("a claim was refused");
    }
    state.counters["median_us"] = median(times);
}
BENCHMARK(claim_over_tls)->Arg(2)->Arg(6)->Arg(40)->UseRealTime();

/// An entry about as long as a claim's.
log::Batch entry(std::uint64_t version) {
    log::Batch batch;
    log::Entry e;
    e.version = version;
    e.kind = "claimed";
    e.record = std::string(120, 'x');
    batch.entries.push_back(e);
    batch.answers.push_back({1, std::to_string(version), std::string(300, 'y')});
    return batch;
}

void echo_and_commit(benchmark::State& state) {
    const testing::TemporaryFolder folder;
    auto log = log::DayLog::open(folder.at("echo.daylog"), log::DayLog::Access::write).value();
    const auto identity = wire::identity_at(folder.at("identity.pem")).value();
    asio::io_context io;
    auto server_tls = wire::server_context(identity);
    auto client_tls = wire::client_context();
    tcp::acceptor acceptor(io, tcp::endpoint(asio::ip::address_v4::loopback(), 0));
    constexpr std::size_t asked = 150, answered = 400;  // bytes, about a claim's and its reply's
    std::thread server([&] {
        asio::ssl::stream<tcp::socket> stream(acceptor.accept(), server_tls);
        stream.lowest_layer().set_option(tcp::no_delay(true));
        stream.handshake(asio::ssl::stream_base::server);
        std::string in(asked, 0);
        const std::string out(answered, 'z');
        boost::system::error_code error;
        for (std::uint64_t version = 1;; ++version) {
            asio::read(stream, asio::buffer(in), error);
            if (error) return;
            auto batch = entry(version);
            if (!log->append(batch)) return;
            asio::write(stream, asio::buffer(out), error);
        }
    });
    {
        asio::ssl::stream<tcp::socket> stream(io, client_tls);
        stream.lowest_layer().connect(acceptor.local_endpoint());
        stream.lowest_layer().set_option(tcp::no_delay(true));
        stream.handshake(asio::ssl::stream_base::client);
        const std::string out(asked, 'a');
        std::string in(answered, 0);
        std::vector<double> times;
        for (auto _ : state) {
            const auto begin = Clock::now();
            asio::write(stream, asio::buffer(out));
            asio::read(stream, asio::buffer(in));
            times.push_back(microseconds(Clock::now() - begin));
        }
        state.counters["median_us"] = median(times);
    }
    server.join();
}
BENCHMARK(echo_and_commit)->UseRealTime();

/// A client that only watches, as small as it can be.
class Watcher {
public:
    Watcher(asio::io_context& io, asio::ssl::context& tls, const v1::Membership& as)
        : stream_(io, tls) {
        stream_.lowest_layer().connect(
            tcp::endpoint(asio::ip::address_v4::loopback(), static_cast<std::uint16_t>(as.port())));
        stream_.handshake(asio::ssl::stream_base::client);
        v1::ClientFrame m;
        m.mutable_hello()->set_protocol(wire::protocol_version);
        m.mutable_hello()->set_key(as.key());
        send(m);
        read();
        v1::ClientFrame watch;
        watch.mutable_request()->set_watch(true);
        send(watch);
        while (read().what_case() != v1::ServerFrame::kChange) {
        }
    }

    v1::ServerFrame read() {
        v1::ServerFrame m;
        while (!channel_.next(m).value()) {
            const auto room = channel_.room();
            channel_.arrived(stream_.read_some(asio::buffer(room.data(), room.size())));
        }
        return m;
    }

private:
    void send(const v1::ClientFrame& m) { asio::write(stream_, asio::buffer(*wire::frame(m))); }

    asio::ssl::stream<tcp::socket> stream_;
    wire::FrameChannel channel_{wire::server_frame_max};
};

std::size_t resident_bytes() {
    std::ifstream in("/proc/self/statm");
    std::size_t pages = 0, resident = 0;
    in >> pages >> resident;
    return resident * static_cast<std::size_t>(::sysconf(_SC_PAGESIZE));
}

/// From the claim's being sent to the last watcher's having read the change.
void change_to_the_last_watcher(benchmark::State& state) {
    rlimit limit{};
    ::getrlimit(RLIMIT_NOFILE, &limit);  // both ends are in this process
    limit.rlim_cur = limit.rlim_max;
    ::setrlimit(RLIMIT_NOFILE, &limit);
    const Served day(6);
    link::Remote marshal(day.server.joined(v1::Role::marshal, "Marshal"));
    marshal.send(claim(1));
    const auto onlooker = day.server.joined(v1::Role::onlooker, "Onlooker");
    asio::io_context io;
    auto tls = wire::client_context();
    std::vector<std::unique_ptr<Watcher>> watchers;
    const auto before = resident_bytes();
    for (std::int64_t i = 0; i < state.range(0); ++i)
        watchers.push_back(std::make_unique<Watcher>(io, tls, onlooker));
    state.counters["kB_both_ends"] =
        static_cast<double>(resident_bytes() - before) / 1000 / static_cast<double>(state.range(0));
    int i = 0;
    for (auto _ : state) {
        marshal.send(claim(i++));
        for (auto& watcher : watchers) watcher->read();
    }
}
BENCHMARK(change_to_the_last_watcher)
    ->Arg(10)
    ->Arg(100)
    ->Arg(500)
    ->UseRealTime()
    ->Unit(benchmark::kMillisecond);

}  // namespace
}  // namespace fieldpeg
