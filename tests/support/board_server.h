#pragma once

#include "server/board/visit.h"
#include "tests/support/server.h"

#include <cstdint>
#include <memory>
#include <string>
#include <utility>

namespace fieldpeg::testing {

/// A server of testing::Server with the page beside its wire.
class BoardServer {
public:
    explicit BoardServer(const std::string& day_file, const ServerSettings& settings = {},
                         board::VisitLimits limits = {}, wire::Form form = board::json_form())
        : gate_(settings.rates), server_(std::make_unique<Server>(day_file, settings)) {
        server_->asked([&](service::Desk& desk) {
            endpoint_.reset(new board::Endpoint{.desk = desk,
                                                .tls = server_->tls(),
                                                .gate = gate_,
                                                .site = {{"pegs.example.org"},
                                                         "A day",
                                                         server_->fingerprint(),
                                                         "http://pegs.example.org:7324/hello"},
                                                .limits = limits,
                                                .form = std::move(form),
                                                .places = wire::Places(settings.places)});
            return true;
        });
        port_ = server_->serve_beside([this](asio::ip::tcp::socket socket) {
            return board::visit(std::move(socket), *endpoint_);
        });
    }
    ~BoardServer() { server_.reset(); }

    BoardServer(const BoardServer&) = delete;
    BoardServer& operator=(const BoardServer&) = delete;

    Server& server() { return *server_; }
    std::uint16_t port() const { return port_; }
    std::size_t connections() {
        return server_->asked([this](service::Desk&) { return endpoint_->places.size(); });
    }

private:
    wire::Gate gate_;
    std::unique_ptr<board::Endpoint> endpoint_;
    std::unique_ptr<Server> server_;
    std::uint16_t port_ = 0;
};

}  // namespace fieldpeg::testing
