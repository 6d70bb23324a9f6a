#pragma once

#include "client/link/connection.h"
#include "client/link/link.h"
#include "client/link/retry.h"

#include "fieldpeg/v1/wire.pb.h"

#include <boost/asio/awaitable.hpp>
#include <boost/asio/io_context.hpp>
#include <boost/asio/steady_timer.hpp>

#include <cstdint>
#include <optional>

namespace fieldpeg::link {

/// Requests to a server and what comes of them, one after the other, over one connection after the
/// other: opened when it is needed, and again by the rules of retry.h. Where there is no answer,
/// `connection().why_not()` says why.
class Line {
public:
    Line(v1::Membership membership, std::optional<v1::JoinRequest> join, Patience patience)
        : patience_(patience), connection_(io_, std::move(membership), std::move(join), patience) {}

    /// One request and its response. One that is not understood is none.
    std::optional<v1::Response> exchange(const v1::Request& request);
    /// The same where word of its progress comes before the response. Not tried twice.
    std::optional<v1::Response> exchange_long(const v1::Request& request,
                                              const Link::Progress& progress);
    /// Until the watcher has enough, or the server will not have it for good.
    void watch(const Link::Watcher& watcher);
    /// One attempt.
    bool connect();

    const Connection& connection() const { return connection_; }

private:
    /// What is said beside what is read: pings, and once that it is enough.
    struct Aside {
        explicit Aside(asio::io_context& io);

        Silence silence;
        asio::steady_timer due;
        std::optional<std::uint64_t> enough;  ///< of the request with this id; to be said
    };
    struct Watched {
        bool enough = false;
        int in_vain = 0;  ///< connections one after the other that showed nothing
    };

    void perform(asio::awaitable<void> work);
    asio::awaitable<void> exchanged(const v1::Request& request,
                                    std::optional<v1::Response>& response);
    asio::awaitable<void> asked(const v1::Request& request, std::optional<v1::Response>& response);
    asio::awaitable<void> exchanged_long(const v1::Request& request, const Link::Progress& progress,
                                         std::optional<v1::Response>& response);
    asio::awaitable<void> awaited(const v1::Request& request, const Link::Progress& progress,
                                  Aside& aside, std::optional<v1::Response>& response);
    asio::awaitable<void> watched(const Link::Watcher& watcher);
    asio::awaitable<void> changes(const Link::Watcher& watcher, Aside& aside, Watched& so_far);
    asio::awaitable<void> next_change(Aside& aside, std::optional<v1::Change>& change);
    asio::awaitable<void> keep_up(Aside& aside);
    asio::awaitable<void> send(const v1::Request& request);

    Patience patience_;
    asio::io_context io_{1};
    Connection connection_;
};

}  // namespace fieldpeg::link
