// How long honest people wait while somebody without a ticket asks as fast as they can.
// Usage: under_fire FIELDPEGD [CONNECTIONS [SECONDS [PILOTS]]]: a server of its own; first nobody
// is hostile, then so many connections from one address, then the same from twenty, then a thousand
// that say nothing. To loopback alone; it ends by itself.

#include "client/link/remote.h"
#include "tests/support/raw_client.h"
#include "tests/support/real_server.h"
#include "tests/support/temporary.h"

#include <boost/asio/as_tuple.hpp>
#include <boost/asio/co_spawn.hpp>
#include <boost/asio/detached.hpp>
#include <boost/asio/steady_timer.hpp>
#include <boost/asio/use_awaitable.hpp>

#include <algorithm>
#include <atomic>
#include <functional>
#include <vector>

namespace fieldpeg::testing {
namespace {

namespace asio = boost::asio;
namespace beast = boost::beast;
using asio::ip::tcp;
using Clock = std::chrono::steady_clock;
constexpr auto quietly = asio::as_tuple(asio::use_awaitable);
constexpr int addresses_many = 20;

/// Hostile connections, in a thread of their own until this ends.
class Fire {
public:
    Fire(std::uint16_t port, int connections, int addresses, bool speaks) : port_(port) {
        for (int i = 0; i < connections; ++i) {
            const auto from = asio::ip::make_address_v4(
                static_cast<asio::ip::address_v4::uint_type>(0x7f00'0102 + i % addresses));
            asio::co_spawn(io_, speaks ? ask_for_ever(from) : be_silent_for_ever(from),
                           asio::detached);
        }
        thread_ = std::thread([this] { io_.run(); });
    }
    ~Fire() {
        io_.stop();
        thread_.join();
    }
    Fire(const Fire&) = delete;
    Fire& operator=(const Fire&) = delete;

    long answers() const { return answers_; }
    long connections() const { return connections_; }

private:
    asio::awaitable<bool> connect(tcp::socket& socket, asio::ip::address_v4 from) {
        socket.open(tcp::v4());
        socket.set_option(tcp::socket::reuse_address(true));
        boost::system::error_code none;
        socket.bind({from, 0}, none);
        const auto [error] =
            co_await socket.async_connect({asio::ip::address_v4::loopback(), port_}, quietly);
        if (!error) ++connections_;
        co_return !error;
    }

    asio::awaitable<void> rest(std::chrono::milliseconds time) {
        asio::steady_timer timer(io_, time);
        co_await timer.async_wait(quietly);
    }

    asio::awaitable<void> ask_for_ever(asio::ip::address_v4 from) {
        while (true) {
            tcp::socket socket(io_);
            const bool connected = co_await connect(socket, from);
            if (connected) co_await ask(std::move(socket));
            co_await rest(std::chrono::milliseconds(10));
        }
    }

    asio::awaitable<void> ask(tcp::socket socket) {
        beast::websocket::stream<tcp::socket> live(std::move(socket));
        const auto host = fmt::format("127.0.0.1:{}", port_);
        const auto [refused] = co_await live.async_handshake(host, "/live", quietly);
        if (refused) co_return;
        const std::string query =
            R"({"request": {"id": 1, "query": {"check": {"contributions": 40}}}})";
        beast::flat_buffer heard;
        co_await live.async_read(heard, quietly);  // welcome
        while (true) {
            const auto [unsaid, said] = co_await live.async_write(asio::buffer(query), quietly);
            if (unsaid) co_return;
            heard.clear();
            const auto [unheard, size] = co_await live.async_read(heard, quietly);
            if (unheard) co_return;
            ++answers_;
        }
    }

    asio::awaitable<void> be_silent_for_ever(asio::ip::address_v4 from) {
        while (true) {
            tcp::socket socket(io_);
            const bool connected = co_await connect(socket, from);
            char byte = 0;
            if (connected) co_await socket.async_read_some(asio::buffer(&byte, 1), quietly);
            co_await rest(std::chrono::milliseconds(10));
        }
    }

    std::uint16_t port_;
    asio::io_context io_{1};
    std::thread thread_;
    std::atomic<long> answers_ = 0, connections_ = 0;
};

double ms_since(Clock::time_point begin) {
    return std::chrono::duration<double, std::milli>(Clock::now() - begin).count();
}

/// One way of asking, again and again.
struct Honest {
    std::string what;
    std::function<bool()> ask;
    std::vector<double> times = {};
    int lost = 0;

    void once() {
        const auto begin = Clock::now();
        if (ask())
            times.push_back(ms_since(begin));
        else
            ++lost;
    }
    std::string told() {
        std::ranges::sort(times);
        if (times.empty()) return fmt::format("{}: {} lost, none answered", what, lost);
        return fmt::format(
            "{}: median {:.2f} ms, p99 {:.2f} ms, {:.1f} ms at worst ({} asked, {} lost)", what,
            times[times.size() / 2], times[times.size() * 99 / 100], times.back(), times.size(),
            lost);
    }
};

v1::ClientFrame board_asked() {
    v1::ClientFrame frame;
    frame.mutable_request()->set_id(1);
    frame.mutable_request()->mutable_query()->mutable_board();
    return frame;
}

v1::Command tried() {
    v1::Command c;
    c.mutable_claim()->set_transmitter("Pilot 0");
    *c.mutable_claim()->mutable_channel() = channel("5650");
    c.mutable_claim()->set_only_try(true);
    return c;
}

void measure(const std::string& when, const v1::Membership& member, std::uint16_t page_port,
             const std::string& cookie, int seconds) {
    RawClient wire(static_cast<std::uint16_t>(member.port()));
    wire.hello(member.key());
    Browser phone(page_port, Browser::Scheme::https);
    if (!phone.listen(phone.origin(), cookie)) fmt::print("the phone was not let in\n");
    v1::Query board;
    board.mutable_board();
    std::vector<Honest> all;
    all.push_back({"  board on a connection", [&] {
                       wire.send(board_asked());
                       const auto frame = wire.read();
                       return frame && frame->response().answer().has_board();
                   }});
    all.push_back({"  a claim tried        ", [&] {
                       const auto reply = wire.send(tried());
                       return reply && reply->has_claim();
                   }});
    all.push_back({"  board on a phone     ", [&] {
                       const auto answer = phone.asked(board);
                       return answer && answer->has_board();
                   }});
    all.push_back({"  a verb, from connect ", [&] {
                       link::Remote once(member);
                       return once.ask(board).has_board();
                   }});
    const auto end = Clock::now() + std::chrono::seconds(seconds);
    while (Clock::now() < end) {
        for (auto& one : all) {
            one.once();
            std::this_thread::sleep_for(std::chrono::milliseconds(10));
        }
    }
    fmt::print("{}\n", when);
    for (auto& one : all) fmt::print("{}\n", one.told());
}

int run(const std::string& program, int connections, int seconds, int pilots) {
    TemporaryFolder folder;
    const auto day = folder.at("day.toml"), said = folder.at("said");
    write_file(day, day_of(pilots));
    const Process server(program, day, said);
    const auto page_port = port_said(said);
    const auto tickets = folder.at("day.tickets");
    const auto ticket = wire::read_ticket(ticket_of(tickets, "marshal"));
    const auto member = link::join(ticket.value(), "Mia").value();
    const auto cookie = cookie_of(page_port, ticket_of(tickets, "pilot"), "Gil");
    const auto under = [&](std::uint16_t port, int count, int addresses, bool speaks,
                           const std::string& when) {
        const auto before_s = server.cpu_s();
        Fire fire(port, count, addresses, speaks);
        std::this_thread::sleep_for(std::chrono::seconds(2));
        measure(when, member, page_port, cookie, seconds);
        fmt::print(
            "  {} hostile answers, {} connections; {:.1f} s of the server's time; its log has "
            "{} bytes\n",
            fire.answers(), fire.connections(), server.cpu_s() - before_s,
            text_of_file(said).size());
    };
    measure("nobody is hostile", member, page_port, cookie, seconds);
    under(page_port, connections, 1, true,
          fmt::format("{} hostile connections, one address", connections));
    under(page_port, connections, addresses_many, true,
          fmt::format("{} hostile connections, {} addresses", connections, addresses_many));
    under(static_cast<std::uint16_t>(member.port()), 1000, 1, false,
          "1000 silent connections to the wire, one address");
    measure("nobody is hostile any more", member, page_port, cookie, seconds);
    return 0;
}

}  // namespace
}  // namespace fieldpeg::testing

int main(int argc, char** argv) {
    if (argc < 2) {
        std::cerr << "usage: under_fire FIELDPEGD [CONNECTIONS [SECONDS [PILOTS]]]\n";
        return 2;
    }
    return fieldpeg::testing::run(argv[1], argc > 2 ? std::atoi(argv[2]) : 200,
                                  argc > 3 ? std::atoi(argv[3]) : 10,
                                  argc > 4 ? std::atoi(argv[4]) : 40);
}
