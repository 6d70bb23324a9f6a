#include "server/board/visit.h"
#include "server/day/state.h"
#include "server/day/words.h"
#include "server/own_wifi.h"
#include "server/ready_checks.h"
#include "server/renewal.h"
#include "server/service/brief_log.h"
#include "server/service/desk.h"
#include "server/tickets.h"
#include "server/wire/addresses.h"
#include "server/wire/authority.h"
#include "server/wire/discovery.h"
#include "server/wire/identity.h"
#include "server/wire/listener.h"
#include "server/wire/spelling.h"
#include "server/wire/ticket.h"

#include <fmt/format.h>
#include <fmt/ranges.h>
#include <spdlog/sinks/stdout_sinks.h>
#include <spdlog/spdlog.h>
#include <CLI/CLI.hpp>
#include <boost/asio/as_tuple.hpp>
#include <boost/asio/co_spawn.hpp>
#include <boost/asio/experimental/awaitable_operators.hpp>
#include <boost/asio/io_context.hpp>
#include <boost/asio/ip/tcp.hpp>
#include <boost/asio/steady_timer.hpp>
#include <boost/asio/this_coro.hpp>
#include <boost/asio/use_awaitable.hpp>

#include <sys/resource.h>
#include <algorithm>
#include <cctype>
#include <chrono>
#include <exception>
#include <filesystem>
#include <iostream>
#include <memory>
#include <optional>
#include <set>
#include <string>
#include <utility>
#include <vector>

namespace fieldpeg {
namespace {

namespace asio = boost::asio;
using asio::ip::tcp;
using namespace asio::experimental::awaitable_operators;

constexpr rlim_t descriptors_wanted = 4096;
constexpr std::chrono::seconds log_looked_at_each(1);

struct Options {
    std::string day = "day.toml";
    std::string listen = "0.0.0.0:7323";
    std::string host;
    std::string board;
    std::string board_identity;
    bool verbose = false;
    bool no_discovery = false;
    bool renew_secrets = false;
};

std::int64_t now_ms() {
    using namespace std::chrono;
    return duration_cast<milliseconds>(system_clock::now().time_since_epoch()).count();
}

int say(const Refusal& refusal) {
    std::cerr << fmt::format("fieldpegd: {}{}{}\n", refusal.where,
                             refusal.where.empty() ? "" : ": ", refusal.why);
    if (!refusal.next.empty()) std::cerr << "  " << refusal.next << '\n';
    return 2;
}

/// Where clients and browsers are listened to. The page is served, unless it is said where, beside
/// the wire, on the next port.
struct Endpoints {
    tcp::endpoint wire;
    std::optional<tcp::endpoint> board;
};

Result<Endpoints> read_endpoints(const Options& options) {
    const auto wire = wire::read_endpoint("--listen", options.listen, wire::port_default);
    if (!wire) return wire.error();
    if (options.board == "none") return Endpoints{*wire, std::nullopt};
    const auto next = static_cast<std::uint16_t>(wire->port() == 0 ? 0 : wire->port() + 1);
    if (options.board.empty()) return Endpoints{*wire, tcp::endpoint(wire->address(), next)};
    const auto board = wire::read_endpoint("--board", options.board, next);
    if (!board) return board.error();
    return Endpoints{*wire, *board};
}

struct Acceptors {
    tcp::acceptor wire;
    std::optional<tcp::acceptor> board;
};

Result<Acceptors> listening(asio::io_context& io, const Endpoints& at) {
    auto wire = wire::listening(io, "--listen", at.wire);
    if (!wire) return wire.error();
    if (!at.board) return Acceptors{*std::move(wire), std::nullopt};
    auto board = wire::listening(io, "--board", *at.board);
    if (!board) return board.error();
    return Acceptors{*std::move(wire), *std::move(board)};
}

wire::Reach reach_of(const Options& options, const Acceptors& acceptors) {
    const auto listens = acceptors.wire.local_endpoint();
    const auto host = options.host.empty() ? wire::own_address(listens) : options.host;
    const std::uint16_t board_port =
        acceptors.board ? acceptors.board->local_endpoint().port() : std::uint16_t{0};
    return {host, listens.port(), board_port};
}

/// What the page shows of itself: of a club's own certificate, or of the server's.
Result<wire::Identity> board_identity(const Options& options, const wire::Identity& own) {
    if (options.board_identity.empty()) return own;
    if (!std::filesystem::exists(options.board_identity))
        return Refusal{Refusal::Kind::not_found, options.board_identity, "is no file",
                       "a certificate and its key in one PEM file, mode 0600"};
    return wire::identity_at(options.board_identity);
}

/// The names by which the page may be called beside addresses.
std::set<std::string> own_names(const std::string& host) {
    std::string name = host;
    for (auto& c : name) c = static_cast<char>(std::tolower(static_cast<unsigned char>(c)));
    return {name};
}

/// Both listeners end by a signal; being found ends with them.
asio::awaitable<void> serve_both(Acceptors acceptors, wire::Endpoint& wire, board::Endpoint& page) {
    const wire::ListenLimits limits;
    auto clients = wire::serve(std::move(acceptors.wire), wire::sessions(wire), limits);
    if (!acceptors.board) {
        co_await std::move(clients);
        co_return;
    }
    const auto visits = [&page](tcp::socket socket) {
        return board::visit(std::move(socket), page);
    };
    auto browsers = wire::serve(std::move(*acceptors.board), visits, limits);
    co_await (std::move(clients) && std::move(browsers));
}

/// A log that cannot be found again is said here when it happens, not only to who asks next.
asio::awaitable<void> watch_log(const service::Keeper& keeper) {
    asio::steady_timer look(co_await asio::this_coro::executor);
    std::string said;
    while (true) {
        look.expires_after(log_looked_at_each);
        const auto [stopped] = co_await look.async_wait(asio::as_tuple(asio::use_awaitable));
        if (stopped) co_return;
        const auto there = keeper.log_in_its_place();
        const auto wrong = there ? std::string() : there.error().where + ": " + there.error().why;
        if (wrong == said) continue;
        said = wrong;
        if (there)
            spdlog::info("the log is in its place again");
        else
            spdlog::error("{}; {}", wrong, there.error().next);
    }
}

asio::awaitable<void> attend_until_stopped(asio::awaitable<void> serving, service::Desk& desk,
                                           std::uint16_t port, std::string fingerprint,
                                           bool be_found) {
    auto watching = watch_log(desk.keeper());
    if (be_found)
        co_await (std::move(serving) || wire::be_found(port, std::move(fingerprint)) ||
                  std::move(watching));
    else
        co_await (std::move(serving) || std::move(watching));
    desk.close();
}

void raise_descriptors() {
    rlimit limit{};
    if (::getrlimit(RLIMIT_NOFILE, &limit) != 0) return;
    limit.rlim_cur = std::min(std::max(limit.rlim_cur, descriptors_wanted), limit.rlim_max);
    ::setrlimit(RLIMIT_NOFILE, &limit);
}

void say_where(const wire::Reach& reach, const std::string& page_fingerprint,
               const v1::DayState& state) {
    if (reach.board_port != 0)
        std::cerr << fmt::format(
            "fieldpegd: the page for phones is http://{}/\n"
            "fieldpegd: its certificate begins {} ({})\n",
            wire::authority(reach.host, reach.board_port),
            wire::hex_pairs(page_fingerprint).substr(0, 23), wire::spelled(page_fingerprint));
    std::cerr << fmt::format("fieldpegd: '{}' at {}, version {} of the log; stop with Ctrl-C\n",
                             state.sheet().name(), wire::authority(reach.host, reach.port),
                             state.version());
}

/// What was on the air when the server ended, and is to be confirmed.
void say_of_restart(const v1::DayState& state) {
    if (state.restarted_ms() == 0) return;
    std::vector<std::string> names;
    day::for_each_holder(state.sheet(), [&](const auto& one) {
        if (one.claim().unconfirmed())
            names.push_back(
                fmt::format("{} on {}", one.name(), day::channel_text(one.claim().channel())));
    });
    std::cerr << fmt::format(
        "fieldpegd: started anew; on the air as of then, each to be confirmed: {}\n",
        fmt::join(names, ", "));
}

/// Answers everybody until it is told to stop.
void serve_day(asio::io_context& io, service::Keeper& keeper, Acceptors acceptors,
               const wire::Reach& reach, const wire::Identity& identity,
               const wire::Identity& page_identity, bool be_found) {
    auto tls = wire::server_context(identity);
    auto page_tls = wire::server_context(page_identity);
    service::Desk desk(io.get_executor(), keeper, now_ms);
    wire::Gate gate;
    wire::Endpoint wire_end{desk, tls, gate, {}};
    const auto& day = keeper.state().sheet().name();
    board::Endpoint page{desk,
                         page_tls,
                         gate,
                         {own_names(reach.host), day, page_identity.fingerprint,
                          wire::hello_url(reach.host, reach.board_port)},
                         {},
                         board::json_form()};
    const auto rethrow = [](std::exception_ptr failure) {
        if (failure) std::rethrow_exception(failure);
    };
    asio::co_spawn(io, desk.run(), rethrow);
    auto serving = serve_both(std::move(acceptors), wire_end, page);
    asio::co_spawn(
        io,
        attend_until_stopped(std::move(serving), desk, reach.port, identity.fingerprint, be_found),
        rethrow);
    say_where(reach, page_identity.fingerprint, keeper.state());
    io.run();
    std::cerr << fmt::format("fieldpegd: stopped at version {} of the log\n",
                             keeper.state().version());
}

/// Instead of serving the day.
int renew(const Options& options, const Endpoints& at, service::Keeper& keeper,
          const service::DayFiles& files) {
    if (at.wire.port() == 0 || (at.board && at.board->port() == 0))
        return say({Refusal::Kind::malformed, "--listen", "has no port for the tickets to name",
                    "as the server will be started: --listen ADDRESS:PORT"});
    const auto host = options.host.empty() ? wire::own_address(at.wire) : options.host;
    const wire::Reach reach{host, at.wire.port(), at.board ? at.board->port() : std::uint16_t{0}};
    const auto renewed = renew_secrets(keeper, files, reach, now_ms());
    return renewed ? 0 : say(renewed.error());
}

int run(const Options& options) {
    const auto at = read_endpoints(options);
    if (!at) return say(at.error());
    const auto files = service::files_of(options.day);
    std::vector<std::string> differences;
    auto keeper = service::Keeper::open(files, log::DayLog::Access::write, now_ms(), differences,
                                        service::Begins::with_tickets);
    if (!keeper) return say(keeper.error());
    if (const auto settled = settle_renewal(**keeper, files); !settled) return say(settled.error());
    for (const auto& text : differences)
        std::cerr << "fieldpegd: " << text << "; the log is what counts\n";
    if (options.renew_secrets) return renew(options, *at, **keeper, files);
    const auto identity = wire::identity_at(files.identity);
    if (!identity) return say(identity.error());
    const auto page_identity = board_identity(options, *identity);
    if (!page_identity) return say(page_identity.error());

    asio::io_context io{1};
    auto acceptors = listening(io, *at);
    if (!acceptors) return say(acceptors.error());
    const auto reach = reach_of(options, *acceptors);
    (*keeper)->write_ticket = [&](const std::string& secret, v1::TicketReply& ticket) {
        write_ticket(reach, identity->fingerprint, secret, ticket);
    };
    (*keeper)->own_wifi_mhz = own_wifi_mhz;
    (*keeper)->add_checks = [&](v1::ReadyReply& reply) {
        add_ready_checks(reach, identity->fingerprint, files, reply);
    };
    if (const auto given = give_tickets(**keeper, files, identity->fingerprint); !given)
        return say(given.error());
    (*keeper)->started_anew(now_ms());
    say_of_restart((*keeper)->state());
    raise_descriptors();
    serve_day(io, **keeper, *std::move(acceptors), reach, *identity, *page_identity,
              !options.no_discovery);
    return 0;
}

}  // namespace
}  // namespace fieldpeg

int main(int argc, char** argv) {
    CLI::App program(
        "The server of a flying day: it holds the day's log and answers everybody on the field.",
        "fieldpegd");
    fieldpeg::Options options;
    program.add_option("--day", options.day, "the day file; its log is beside it")
        ->type_name("FILE")
        ->capture_default_str();
    program.add_option("--listen", options.listen, "where to listen")
        ->type_name("ADDRESS:PORT")
        ->capture_default_str();
    program
        .add_option(
            "--host", options.host,
            "how others reach this machine, for tickets; default: its address on the network")
        ->type_name("NAME");
    program
        .add_option("--board", options.board,
                    "where the page for phones is served; 'none': nowhere; default: the address of "
                    "--listen, the next port")
        ->type_name("ADDRESS:PORT");
    program
        .add_option("--board-identity", options.board_identity,
                    "a certificate of the club's own for the page, with its key in one PEM file")
        ->type_name("FILE");
    program.add_flag("--no-discovery", options.no_discovery,
                     "do not answer clients that look for a server");
    program.add_flag("--renew-secrets", options.renew_secrets,
                     "another certificate, three new tickets, and nobody's key is good any more; "
                     "then ends. With --listen and --host as for serving");
    program.add_flag("-v,--verbose", options.verbose, "say more on stderr");
    program.set_version_flag("--version", "fieldpegd " FIELDPEG_VERSION);
    program.footer(
        "The first start makes the log, a certificate and the tickets, beside the day file.\n"
        "The day file is only read. One program at a time holds a day.\n"
        "Was the laptop stolen, or a copy of its files? --renew-secrets, on a copy that is left.\n"
        "Exit status: 0 stopped when asked, 1 failed, 2 bad input or nothing to listen on.\n"
        "Examples:\n"
        "  fieldpegd --day saturday.toml\n"
        "  fieldpegd --day saturday.toml --listen 192.168.4.1:7323\n"
        "  fieldpegd --day saturday.toml --board none");
    try {
        program.parse(argc, argv);
    } catch (const CLI::ParseError& error) {
        if (error.get_exit_code() == 0) return program.exit(error);
        std::cerr << "fieldpegd: " << error.what() << "\n  see: fieldpegd --help\n";
        return 2;
    }
    spdlog::set_default_logger(std::make_shared<spdlog::logger>(
        "fieldpegd", fieldpeg::service::brief(std::make_shared<spdlog::sinks::stderr_sink_mt>())));
    spdlog::set_pattern("%Y-%m-%d %H:%M:%S %l: %v");
    spdlog::set_level(options.verbose ? spdlog::level::debug : spdlog::level::info);
    try {
        return fieldpeg::run(options);
    } catch (const std::exception& error) {
        std::cerr << "fieldpegd: " << error.what() << '\n';
        return 1;
    }
}
