#include "server/following.h"

#include "server/log/follower.h"
#include "server/wire/elsewhere.h"
#include "server/wire/identity.h"
#include "server/wire/listener.h"
#include "server/wire/within.h"

#include <fmt/format.h>
#include <spdlog/spdlog.h>
#include <boost/asio/co_spawn.hpp>
#include <boost/asio/io_context.hpp>
#include <boost/asio/signal_set.hpp>
#include <boost/asio/this_coro.hpp>
#include <boost/asio/thread_pool.hpp>

#include <chrono>
#include <csignal>
#include <exception>
#include <filesystem>
#include <iostream>
#include <optional>
#include <utility>

namespace fieldpeg {
namespace {

namespace asio = boost::asio;
using namespace std::chrono_literals;

constexpr auto looks_each = 100ms;

/// What waits for the database does so in a thread of its own.
class Following {
public:
    Following(log::Follower& follower, asio::any_io_executor elsewhere)
        : follower_(follower), elsewhere_(std::move(elsewhere)) {}

    const std::string& holder() const { return sight_.holder; }
    std::unique_ptr<log::DayLog> taken() { return std::move(taken_); }

    asio::awaitable<void> until_taken() {
        while (!taken_) {
            auto looking = look();
            const auto now =
                co_await asio::co_spawn(elsewhere_, std::move(looking), asio::use_awaitable);
            tell(now);
            sight_ = now;
            if (!now.may_take) {
                co_await wire::pause(looks_each);
                continue;
            }
            auto taking = take();
            co_await asio::co_spawn(elsewhere_, std::move(taking), asio::use_awaitable);
        }
    }

private:
    asio::awaitable<log::Follower::Sight> look() { co_return follower_.look(); }

    asio::awaitable<void> take() {
        auto taken = follower_.take();
        if (taken)
            taken_ = *std::move(taken);
        else
            spdlog::info("the day was not taken: {} {}", taken.error().where, taken.error().why);
        co_return;
    }

    void tell(const log::Follower::Sight& now) const {
        if (now.answers && !sight_.answers) spdlog::info("the database answers");
        if (!now.answers && sight_.answers) spdlog::warn("the database does not answer");
        if (now.holder != sight_.holder && !now.holder.empty())
            std::cerr << fmt::format("fieldpegd: the day is answered at {}; waiting beside it\n",
                                     now.holder);
    }

    log::Follower& follower_;
    asio::any_io_executor elsewhere_;
    log::Follower::Sight sight_;
    std::unique_ptr<log::DayLog> taken_;
};

asio::awaitable<void> until_told_to_stop() {
    asio::signal_set stop(co_await asio::this_coro::executor, SIGTERM, SIGINT);
    co_await stop.async_wait(wire::quietly);
}

asio::awaitable<void> until_there(std::string path, bool& appeared) {
    while (!appeared) {
        co_await wire::pause(looks_each);
        appeared = std::filesystem::exists(path);
    }
}

/// What is taken after we were told to stop is left again.
asio::awaitable<void> wait_for_day(asio::awaitable<void> serving, Following& following,
                                   std::unique_ptr<log::DayLog>& taken) {
    auto taking = following.until_taken();
    co_await wire::first_to_end(std::move(serving), std::move(taking));
    taken = following.taken();
}

}  // namespace

Result<std::unique_ptr<log::DayLog>> follow(const std::string& place, const wire::Reach& reach,
                                            const asio::ip::tcp::endpoint& listen,
                                            const std::string& identity) {
    auto follower = log::Follower::begin(place, wire::elsewhere_text(reach));
    if (!follower) return follower.error();
    bool goes_on = true;
    std::unique_ptr<log::DayLog> taken;
    while (goes_on) {
        asio::io_context io{1};
        asio::thread_pool elsewhere{1};
        Following following(**follower, elsewhere.get_executor());
        std::optional<asio::ssl::context> tls;
        const bool has_identity = std::filesystem::exists(identity);
        bool appeared = false;
        auto serving = wire::first_to_end(until_there(identity, appeared), until_told_to_stop());
        if (has_identity) {
            const auto own = wire::identity_at(identity);
            if (!own) return own.error();
            auto acceptor = wire::listening(io, "--listen", listen);
            if (!acceptor) return acceptor.error();
            tls.emplace(wire::server_context(*own));
            const auto holder = [&] { return following.holder(); };
            serving = wire::serve(*std::move(acceptor), wire::tell_elsewhere(*tls, holder), {});
        }
        auto waiting = wait_for_day(std::move(serving), following, taken);
        asio::co_spawn(io, std::move(waiting), [](std::exception_ptr failure) {
            if (failure) std::rethrow_exception(failure);
        });
        io.run();
        elsewhere.join();
        goes_on = !taken && appeared;
    }
    return taken;
}

}  // namespace fieldpeg
