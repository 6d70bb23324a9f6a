#pragma once

#include "server/wire/frame_channel.h"
#include "server/wire/identity.h"
#include "tests/support/temporary.h"

#include "fieldpeg/v1/membership.pb.h"
#include "fieldpeg/v1/wire.pb.h"

#include <boost/asio/buffer.hpp>
#include <boost/asio/io_context.hpp>
#include <boost/asio/ip/tcp.hpp>
#include <boost/asio/ssl/stream.hpp>
#include <boost/asio/write.hpp>

#include <atomic>
#include <functional>
#include <mutex>
#include <optional>
#include <string>
#include <thread>
#include <utility>
#include <vector>

namespace fieldpeg::testing {

/// A server that says whatever a test wants, byte for byte. Attends to one connection after the
/// other, in a thread of its own, lets everybody in and hears what they ask.
class FalseServer {
public:
    /// The bytes that answer a request; none: the connection is closed.
    using Says = std::function<std::optional<std::string>(const v1::Request&)>;

    explicit FalseServer(Says says, v1::Welcome welcome = usual_welcome())
        : identity_(wire::identity_at(folder_.at("identity.pem")).value()),
          tls_(wire::server_context(identity_)),
          acceptor_(io_, Tcp::endpoint(boost::asio::ip::address_v4::loopback(), 0)),
          says_(std::move(says)),
          thread_([this, welcome] { attend(welcome); }) {}
    ~FalseServer() {
        stopped_ = true;
        Tcp::socket last(io_);
        boost::system::error_code ignored;
        last.connect(acceptor_.local_endpoint(), ignored);
        last.close(ignored);
        thread_.join();
    }
    FalseServer(const FalseServer&) = delete;
    FalseServer& operator=(const FalseServer&) = delete;

    v1::Membership membership() const {
        v1::Membership m;
        m.set_host("127.0.0.1");
        m.set_port(acceptor_.local_endpoint().port());
        m.set_fingerprint(identity_.fingerprint);
        m.set_key(std::string(32, 'k'));
        m.set_name("Ann");
        m.set_role(v1::Role::marshal);
        return m;
    }

    std::vector<v1::Request> heard() {
        const std::lock_guard lock(mutex_);
        return heard_;
    }

    static v1::Welcome usual_welcome() {
        v1::Welcome welcome;
        welcome.set_protocol(wire::protocol_version);
        welcome.set_day("a day");
        welcome.mutable_person()->set_id(1);
        welcome.mutable_person()->set_name("Ann");
        welcome.mutable_person()->set_role(v1::Role::marshal);
        welcome.set_version(1);
        return welcome;
    }

    static std::string bytes_of(const v1::ServerFrame& m) { return *wire::frame(m); }

private:
    using Tcp = boost::asio::ip::tcp;
    using Stream = boost::asio::ssl::stream<Tcp::socket>;

    void attend(const v1::Welcome& welcome) {
        while (!stopped_) {
            Stream stream(acceptor_.accept(), tls_);
            boost::system::error_code error;
            stream.handshake(boost::asio::ssl::stream_base::server, error);
            wire::FrameChannel channel(wire::client_frame_max);
            if (error || !read(stream, channel, error).has_hello()) continue;
            v1::ServerFrame m;
            *m.mutable_welcome() = welcome;
            write(stream, bytes_of(m), error);
            while (!error && !stopped_) serve(stream, channel, error);
        }
    }

    void serve(Stream& stream, wire::FrameChannel& channel, boost::system::error_code& error) {
        const auto asked = read(stream, channel, error);
        if (error || !asked.has_request()) return;
        {
            const std::lock_guard lock(mutex_);
            heard_.push_back(asked.request());
        }
        if (const auto said = says_(asked.request()))
            write(stream, *said, error);
        else
            error = boost::asio::error::eof;
    }

    static void write(Stream& stream, const std::string& bytes, boost::system::error_code& error) {
        if (!error) boost::asio::write(stream, boost::asio::buffer(bytes), error);
    }

    static v1::ClientFrame read(Stream& stream, wire::FrameChannel& channel,
                                boost::system::error_code& error) {
        v1::ClientFrame m;
        while (!error && !channel.next(m).value()) {
            const auto room = channel.room();
            channel.arrived(stream.read_some(boost::asio::buffer(room.data(), room.size()), error));
        }
        return m;
    }

    TemporaryFolder folder_;
    wire::Identity identity_;
    boost::asio::io_context io_;
    boost::asio::ssl::context tls_;
    Tcp::acceptor acceptor_;
    Says says_;
    std::mutex mutex_;
    std::vector<v1::Request> heard_;
    std::atomic<bool> stopped_ = false;
    std::thread thread_;
};

}  // namespace fieldpeg::testing
