#include "server/board/visit.h"
#include "server/book/names.h"
#include "server/day/state.h"
#include "server/day/words.h"
#include "server/following.h"
#include "server/log/database_place.h"
#include "server/options.h"
#include "server/own_wifi.h"
#include "server/ready_checks.h"
#include "server/renewal.h"
#include "server/service/brief_log.h"
#include "server/service/desk.h"
#include "server/service/empty_day.h"
#include "server/tickets.h"
#include "server/wire/addresses.h"
#include "server/wire/authority.h"
#include "server/wire/discovery.h"
#include "server/wire/elsewhere.h"
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
constexpr std::chrono::milliseconds log_looked_at_each(250);

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

/// With the ports that the system gave where none was asked for.
Endpoints endpoints_of(const Acceptors& acceptors) {
    Endpoints at{acceptors.wire.local_endpoint(), std::nullopt};
    if (acceptors.board) at.board = acceptors.board->local_endpoint();
    return at;
}

wire::Reach reach_of(const Options& options, const Endpoints& at) {
    return {options.host.empty() ? wire::own_address(at.wire) : options.host, at.wire.port(),
            at.board ? at.board->port() : std::uint16_t{0}};
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

bool is_ours(const service::Desk& desk) {
    return !desk.is_over() && desk.keeper().hold() != log::Hold::lost;
}

/// A log that cannot be found again is said here when it happens, not only to who asks next. Ends
/// when the day is another server's.
asio::awaitable<void> watch_log(const service::Desk& desk) {
    const auto& keeper = desk.keeper();
    asio::steady_timer look(co_await asio::this_coro::executor);
    std::string said;
    while (is_ours(desk)) {
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
    auto watching = watch_log(desk);
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

/// That nobody wrote this day, lest an empty one is taken for the one that was meant.
void say_of_empty_day(const v1::DayState& state, const service::DayFiles& files) {
    std::cerr << fmt::format(
        "fieldpegd: there is no {}: an empty day is begun, '{}'\n"
        "fieldpegd: set it up on the marshal's page, under 'The day', or with 'fieldpeg'\n",
        files.sheet, state.sheet().name());
}

/// Answers everybody until it is told to stop. False: the day is not ours any more.
bool serve_day(asio::io_context& io, service::Keeper& keeper, Acceptors acceptors,
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
    keeper.answered_at(wire::elsewhere_text(reach));
    io.run();
    const bool is_ours_still = is_ours(desk);
    std::cerr << fmt::format("fieldpegd: {} version {} of the log\n",
                             is_ours_still ? "stopped at" : "the day is not ours any more, after",
                             keeper.state().version());
    return is_ours_still;
}

/// Instead of serving the day.
int renew(const Options& options, const Endpoints& at, service::Keeper& keeper,
          const service::DayFiles& files) {
    if (at.wire.port() == 0 || (at.board && at.board->port() == 0))
        return say({Refusal::Kind::malformed, "--listen", "has no port for the tickets to name",
                    "as the server will be started: --listen ADDRESS:PORT"});
    const auto renewed = renew_secrets(keeper, files, reach_of(options, at), now_ms());
    return renewed ? 0 : say(renewed.error());
}

/// One made anew would be no good where others know the day by another.
Result<wire::Identity> own_identity(const service::DayFiles& files, const v1::DayState& state) {
    if (log::is_database(files.log) && state.version() != 0 &&
        !std::filesystem::exists(files.identity))
        return Refusal{Refusal::Kind::not_found, files.identity,
                       "is not here, and the day has begun elsewhere",
                       "copy it from the other server, mode 0600: clients know the day by it"};
    return wire::identity_at(files.identity);
}

void say_differences(const std::vector<std::string>& differences) {
    for (const auto& text : differences)
        std::cerr << "fieldpegd: " << text << "; the log is what counts\n";
}

enum class Ended { stopped, lost, failed };

/// From a log that is open to the end of serving.
Ended serve(const Options& options, const Endpoints& at, const service::DayFiles& files,
            std::unique_ptr<service::Keeper> keeper) {
    const auto fail = [](const Refusal& why) {
        say(why);
        return Ended::failed;
    };
    if (const auto settled = settle_renewal(*keeper, files); !settled) return fail(settled.error());
    const auto identity = own_identity(files, keeper->state());
    if (!identity) return fail(identity.error());
    const auto page_identity = board_identity(options, *identity);
    if (!page_identity) return fail(page_identity.error());
    asio::io_context io{1};
    auto acceptors = listening(io, at);
    if (!acceptors) return fail(acceptors.error());
    const auto reach = reach_of(options, endpoints_of(*acceptors));
    keeper->write_ticket = [&](const std::string& secret, v1::TicketReply& ticket) {
        write_ticket(reach, identity->fingerprint, secret, ticket);
    };
    keeper->own_wifi_mhz = own_wifi_mhz;
    keeper->add_checks = [&](v1::ReadyReply& reply) {
        add_ready_checks(reach, identity->fingerprint, files, reply);
    };
    const bool is_unwritten = !keeper->has_begun() && !std::filesystem::exists(files.sheet);
    if (const auto given = give_tickets(*keeper, files, identity->fingerprint); !given)
        return fail(given.error());
    if (is_unwritten) say_of_empty_day(keeper->state(), files);
    keeper->started_anew(now_ms());
    say_of_restart(keeper->state());
    raise_descriptors();
    const bool is_ours_still = serve_day(io, *keeper, *std::move(acceptors), reach, *identity,
                                         *page_identity, !options.no_discovery);
    return is_ours_still ? Ended::stopped : Ended::lost;
}

/// Waits for the day, has it, and waits again when another has taken it.
int follow_and_serve(const Options& options, const Endpoints& at, const service::DayFiles& files,
                     const std::optional<v1::DaySheet>& unwritten) {
    if (!log::is_database(files.log))
        return say({Refusal::Kind::malformed, "--follow", "has no database to wait at",
                    "--log postgresql://HOST/DATABASE"});
    if (at.wire.port() == 0)
        return say({Refusal::Kind::malformed, "--listen", "has no port to be found at",
                    "--listen ADDRESS:PORT"});
    const auto reach = reach_of(options, at);
    while (true) {
        auto taken = follow(files.log, reach, at.wire, files.identity);
        if (!taken) return say(taken.error());
        if (!*taken) return 0;
        std::vector<std::string> differences;
        auto keeper = service::Keeper::open(files, *std::move(taken), now_ms(), differences,
                                            service::Begins::with_tickets, unwritten);
        if (!keeper) return say(keeper.error());
        say_differences(differences);
        const auto ended = serve(options, at, files, *std::move(keeper));
        if (ended == Ended::stopped) return 0;
        if (ended == Ended::failed) return 2;
    }
}

/// What begins where there is neither a day file nor a log.
Result<std::optional<v1::DaySheet>> unwritten_day(const Options& options,
                                                  const service::DayFiles& files) {
    const bool may_begin = (options.begins_new || options.day.empty()) && !options.renew_secrets;
    auto unwritten = service::day_if_unwritten(
        files, may_begin ? service::Unwritten::begins : service::Unwritten::refused, now_ms());
    if (!unwritten || !*unwritten || options.name.empty()) return unwritten;
    std::string why;
    const auto name = book::proper_name(options.name, why);
    if (!name)
        return Refusal{Refusal::Kind::malformed, "--name", why,
                       "1 to 40 characters, as people call the day"};
    (*unwritten)->set_name(*name);
    return unwritten;
}

int run(const Options& options) {
    const auto at = read_endpoints(options);
    if (!at) return say(at.error());
    const bool is_named = !options.day.empty();
    const auto files = service::files_of(is_named ? options.day : "day.toml", options.log);
    if (!files) return say(files.error());
    const auto unwritten = unwritten_day(options, *files);
    if (!unwritten) return say(unwritten.error());
    if (options.follow) return follow_and_serve(options, *at, *files, *unwritten);
    std::vector<std::string> differences;
    auto keeper = service::Keeper::open(*files, log::DayLog::Access::write, now_ms(), differences,
                                        service::Begins::with_tickets, *unwritten);
    if (!keeper) return say(keeper.error());
    say_differences(differences);
    if (options.renew_secrets) {
        const auto settled = settle_renewal(**keeper, *files);
        return settled ? renew(options, *at, **keeper, *files) : say(settled.error());
    }
    switch (serve(options, *at, *files, *std::move(keeper))) {
        case Ended::stopped:
            return 0;
        case Ended::lost:
            return 1;
        case Ended::failed:
            return 2;
    }
    return 1;
}

}  // namespace
}  // namespace fieldpeg

int main(int argc, char** argv) {
    CLI::App program;
    fieldpeg::Options options;
    fieldpeg::add_options(program, options);
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
