#include "server/board/visit.h"
#include "server/log/hash.h"
#include "server/service/desk.h"
#include "server/wire/discovery.h"
#include "server/wire/identity.h"
#include "server/wire/listener.h"
#include "server/wire/private_file.h"
#include "server/wire/spelling.h"
#include "server/wire/ticket.h"

#include <fmt/format.h>
#include <spdlog/sinks/stdout_sinks.h>
#include <spdlog/spdlog.h>
#include <CLI/CLI.hpp>
#include <boost/asio/co_spawn.hpp>
#include <boost/asio/experimental/awaitable_operators.hpp>
#include <boost/asio/io_context.hpp>
#include <boost/asio/ip/tcp.hpp>
#include <boost/asio/ip/udp.hpp>

#include <ifaddrs.h>
#include <net/if.h>
#include <netinet/in.h>
#include <sys/resource.h>
#include <unistd.h>
#include <algorithm>
#include <cctype>
#include <charconv>
#include <chrono>
#include <cstring>
#include <exception>
#include <filesystem>
#include <iostream>
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

constexpr std::uintmax_t disk_wanted_bytes = 100'000'000;
constexpr rlim_t descriptors_wanted = 4096;

struct Options {
    std::string day = "day.toml";
    std::string listen = "0.0.0.0:7323";
    std::string host;
    std::string board;
    std::string board_identity;
    bool verbose = false;
    bool no_discovery = false;
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

/// "ADDRESS:PORT", "[ADDRESS]:PORT", or an address alone.
Result<tcp::endpoint> endpoint(const char* flag, const std::string& listen,
                               std::uint16_t usual_port) {
    const auto colon = listen.rfind(':');
    const bool has_port =
        colon != std::string::npos && (listen.find(':') == colon || listen[colon - 1] == ']');
    auto host = has_port ? listen.substr(0, colon) : listen;
    if (host.size() > 1 && host.front() == '[' && host.back() == ']')
        host = host.substr(1, host.size() - 2);
    const auto wrong = [&] {
        return Refusal{Refusal::Kind::malformed, flag, fmt::format("'{}' is no address", listen),
                       fmt::format("for example 0.0.0.0:{0}, or [::]:{0}", usual_port)};
    };
    boost::system::error_code error;
    const auto address = asio::ip::make_address(host, error);
    if (error) return wrong();
    std::uint16_t port = usual_port;
    if (has_port) {
        const auto text = listen.substr(colon + 1);
        const auto [end, bad] = std::from_chars(text.data(), text.data() + text.size(), port);
        if (bad != std::errc{} || end != text.data() + text.size()) return wrong();
    }
    return tcp::endpoint(address, port);
}

/// Where the page is served: unless it is said, beside the wire, on the next port.
Result<std::optional<tcp::endpoint>> board_endpoint(const Options& options,
                                                    const tcp::endpoint& wire) {
    if (options.board == "none") return std::optional<tcp::endpoint>();
    const auto next = static_cast<std::uint16_t>(wire.port() == 0 ? 0 : wire.port() + 1);
    if (options.board.empty()) return std::optional(tcp::endpoint(wire.address(), next));
    const auto at = endpoint("--board", options.board, next);
    if (!at) return at.error();
    return std::optional(*at);
}

Result<tcp::acceptor> listening(asio::io_context& io, const char* flag, const tcp::endpoint& at) {
    boost::system::error_code error;
    tcp::acceptor acceptor(io);
    acceptor.open(at.protocol(), error);
    if (!error) acceptor.set_option(tcp::acceptor::reuse_address(true), error);
    if (!error) acceptor.bind(at, error);
    if (!error) acceptor.listen(tcp::acceptor::max_listen_connections, error);
    if (!error) return acceptor;
    return Refusal{Refusal::Kind::unavailable, flag,
                   fmt::format("{}:{} cannot be listened on: {}", at.address().to_string(),
                               at.port(), error.message()),
                   fmt::format("is another server running? {} takes another address or "
                               "port",
                               flag)};
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

/// Without a way out (the laptop is its own hotspot): an address of an interface that is up.
std::string address_of_an_interface() {
    ifaddrs* all = nullptr;
    if (::getifaddrs(&all) != 0) return "127.0.0.1";
    std::string found = "127.0.0.1";
    for (const auto* one = all; one; one = one->ifa_next) {
        const bool counts = one->ifa_addr && one->ifa_addr->sa_family == AF_INET &&
                            (one->ifa_flags & IFF_UP) != 0 && (one->ifa_flags & IFF_LOOPBACK) == 0;
        if (!counts) continue;
        sockaddr_in address{};
        std::memcpy(&address, one->ifa_addr, sizeof address);
        found = asio::ip::address_v4(ntohl(address.sin_addr.s_addr)).to_string();
        break;
    }
    ::freeifaddrs(all);
    return found;
}

/// The address by which others on the network know this machine: that of the way out. Nothing is
/// sent.
std::string own_address(const tcp::endpoint& listens) {
    if (!listens.address().is_unspecified()) return listens.address().to_string();
    asio::io_context io;
    asio::ip::udp::socket socket(io);
    boost::system::error_code error;
    socket.connect(asio::ip::udp::endpoint(asio::ip::make_address("192.0.2.1"), 9), error);
    const auto address = error ? asio::ip::address() : socket.local_endpoint(error).address();
    return error || address.is_unspecified() ? address_of_an_interface() : address.to_string();
}

/// The tickets of the three roles, made when the day has none, kept in a file that only its owner
/// reads, and shown only to a terminal.
Result<void> give_tickets(service::Keeper& keeper, const service::DayFiles& files) {
    if (keeper.has_tickets()) {
        std::cerr << "fieldpegd: tickets are in " << files.tickets
                  << "; 'fieldpeg ticket' makes new ones\n";
        return {};
    }
    const auto now = now_ms();
    std::string text;
    for (const auto& [role, title] :
         {std::pair(v1::Role::marshal, "marshal"), std::pair(v1::Role::pilot, "pilot"),
          std::pair(v1::Role::onlooker, "onlooker")}) {
        service::Ask ask;
        ask.command.mutable_renew_ticket()->set_role(role);
        const auto reply = keeper.take(ask, now);
        if (reply.has_refusal())
            return Refusal{Refusal::Kind::unavailable, reply.refusal().where(),
                           reply.refusal().why(), ""};
        text += fmt::format("# {}\n{}\n", title, reply.ticket().ticket());
        if (::isatty(STDERR_FILENO) == 1)
            std::cerr << fmt::format(
                "\n{} ticket:\n  {}\n{}{}", title, reply.ticket().ticket(),
                reply.ticket().phone_url().empty() ? "" : "  " + reply.ticket().phone_url() + "\n",
                role == v1::Role::pilot ? wire::qr_text(reply.ticket().phone_url()) : "");
    }
    const auto written = wire::write_private(files.tickets, text, wire::Existing::goes);
    if (!written) return written.error();
    std::cerr << "fieldpegd: tickets are in " << files.tickets << '\n';
    return {};
}

void add_checks(const std::string& host, const tcp::endpoint& listens, std::uint16_t board_port,
                const wire::Identity& identity, const service::DayFiles& files,
                v1::ReadyReply& reply) {
    const auto add = [&](bool good, const char* what, std::string text) {
        auto& check = *reply.add_checks();
        check.set_good(good);
        check.set_what(what);
        check.set_text(std::move(text));
    };
    const bool is_local = host == "127.0.0.1" || host == "::1";
    add(!is_local, "address",
        fmt::format("{}:{}{}", host, listens.port(),
                    is_local ? ", which nobody else can reach" : ""));
    add(true, "page",
        board_port == 0 ? "none is served"
                        : fmt::format("http://{}:{}/ for everybody's phone", host, board_port));
    add(true, "certificate",
        fmt::format("fingerprint {}", log::hex(identity.fingerprint).substr(0, 16)));
    std::error_code error;
    const auto folder = std::filesystem::absolute(files.log).parent_path();
    const auto space = std::filesystem::space(folder, error);
    add(!error && space.available >= disk_wanted_bytes, "disk",
        error ? error.message() : fmt::format("{} MB free", space.available / 1'000'000));
    add(true, "version", "fieldpegd " FIELDPEG_VERSION);
}

/// Both listeners end by a signal; being found ends with them.
asio::awaitable<void> serve_both(tcp::acceptor wire_acceptor, wire::Endpoint& wire,
                                 std::optional<tcp::acceptor> board_acceptor,
                                 board::Endpoint& page) {
    const wire::ListenLimits limits;
    auto clients = wire::serve(std::move(wire_acceptor), wire::sessions(wire), limits);
    if (!board_acceptor) {
        co_await std::move(clients);
        co_return;
    }
    const auto visits = [&page](tcp::socket socket) {
        return board::visit(std::move(socket), page);
    };
    auto browsers = wire::serve(std::move(*board_acceptor), visits, limits);
    co_await (std::move(clients) && std::move(browsers));
}

asio::awaitable<void> attend_until_stopped(asio::awaitable<void> serving, service::Desk& desk,
                                           std::uint16_t port, std::string fingerprint,
                                           bool be_found) {
    if (be_found)
        co_await (std::move(serving) || wire::be_found(port, std::move(fingerprint)));
    else
        co_await std::move(serving);
    desk.close();
}

void raise_descriptors() {
    rlimit limit{};
    if (::getrlimit(RLIMIT_NOFILE, &limit) != 0) return;
    limit.rlim_cur = std::min(std::max(limit.rlim_cur, descriptors_wanted), limit.rlim_max);
    ::setrlimit(RLIMIT_NOFILE, &limit);
}

int run(const Options& options) {
    const auto at = endpoint("--listen", options.listen, wire::port_default);
    if (!at) return say(at.error());
    const auto board_at = board_endpoint(options, *at);
    if (!board_at) return say(board_at.error());
    const auto files = service::files_of(options.day);
    std::vector<std::string> differences;
    auto keeper = service::Keeper::open(files, log::DayLog::Access::write, now_ms(), differences);
    if (!keeper) return say(keeper.error());
    for (const auto& text : differences)
        std::cerr << "fieldpegd: " << text << "; the log is what counts\n";
    const auto identity = wire::identity_at(files.identity);
    if (!identity) return say(identity.error());
    const auto page_identity = board_identity(options, *identity);
    if (!page_identity) return say(page_identity.error());

    asio::io_context io{1};
    auto acceptor = listening(io, "--listen", *at);
    if (!acceptor) return say(acceptor.error());
    std::optional<tcp::acceptor> board_acceptor;
    if (*board_at) {
        auto listens = listening(io, "--board", **board_at);
        if (!listens) return say(listens.error());
        board_acceptor.emplace(std::move(*listens));
    }
    const auto listens = acceptor->local_endpoint();
    const std::uint16_t board_port = board_acceptor ? board_acceptor->local_endpoint().port() : 0;
    const auto host = options.host.empty() ? own_address(listens) : options.host;
    (*keeper)->write_ticket = [&](const std::string& secret, v1::TicketReply& ticket) {
        ticket.set_ticket(wire::ticket_text({host, listens.port(), identity->fingerprint, secret}));
        if (board_port == 0) return;
        ticket.set_phone_url(wire::phone_url({host, board_port, "", secret}, ticket.pilot()));
        for (auto& row : wire::qr_rows(ticket.phone_url())) ticket.add_phone_qr(std::move(row));
    };
    (*keeper)->add_checks = [&](v1::ReadyReply& reply) {
        add_checks(host, listens, board_port, *identity, files, reply);
    };
    if (const auto given = give_tickets(**keeper, files); !given) return say(given.error());

    raise_descriptors();
    auto tls = wire::server_context(*identity);
    auto page_tls = wire::server_context(*page_identity);
    service::Desk desk(io.get_executor(), **keeper, now_ms);
    wire::Gate gate;
    wire::Endpoint wire_end{desk, tls, gate, {}};
    const auto& day = (*keeper)->state().sheet().name();
    board::Endpoint page{desk, page_tls,
                         gate, {own_names(host), day, page_identity->fingerprint},
                         {},   board::json_form()};
    const auto rethrow = [](std::exception_ptr failure) {
        if (failure) std::rethrow_exception(failure);
    };
    asio::co_spawn(io, desk.run(), rethrow);
    auto serving = serve_both(std::move(*acceptor), wire_end, std::move(board_acceptor), page);
    asio::co_spawn(io,
                   attend_until_stopped(std::move(serving), desk, listens.port(),
                                        identity->fingerprint, !options.no_discovery),
                   rethrow);
    if (board_port != 0)
        std::cerr << fmt::format(
            "fieldpegd: the page for phones is http://{}:{}/\n"
            "fieldpegd: its certificate begins {} ({})\n",
            host, board_port, wire::hex_pairs(page_identity->fingerprint).substr(0, 23),
            wire::spelled(page_identity->fingerprint));
    std::cerr << fmt::format("fieldpegd: '{}' at {}:{}, version {} of the log; stop with Ctrl-C\n",
                             day, host, listens.port(), (*keeper)->state().version());
    io.run();
    std::cerr << fmt::format("fieldpegd: stopped at version {} of the log\n",
                             (*keeper)->state().version());
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
    program.add_flag("-v,--verbose", options.verbose, "say more on stderr");
    program.set_version_flag("--version", "fieldpegd " FIELDPEG_VERSION);
    program.footer(
        "The first start makes the log, a certificate and the tickets, beside the day file.\n"
        "The day file is only read. One program at a time holds a day.\n"
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
    spdlog::set_default_logger(spdlog::stderr_logger_mt("fieldpegd"));
    spdlog::set_pattern("%Y-%m-%d %H:%M:%S %l: %v");
    spdlog::set_level(options.verbose ? spdlog::level::debug : spdlog::level::info);
    try {
        return fieldpeg::run(options);
    } catch (const std::exception& error) {
        std::cerr << "fieldpegd: " << error.what() << '\n';
        return 1;
    }
}
