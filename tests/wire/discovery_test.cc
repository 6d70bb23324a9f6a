#include "server/wire/discovery.h"

#include "server/wire/ticket.h"

#include <gtest/gtest.h>
#include <boost/asio/bind_cancellation_slot.hpp>
#include <boost/asio/buffer.hpp>
#include <boost/asio/cancellation_signal.hpp>
#include <boost/asio/co_spawn.hpp>
#include <boost/asio/error.hpp>
#include <boost/asio/io_context.hpp>
#include <boost/asio/ip/udp.hpp>
#include <boost/asio/post.hpp>

#include <array>
#include <exception>
#include <initializer_list>
#include <string>
#include <thread>

namespace fieldpeg::wire {
namespace {

using asio::ip::udp;

const std::string fingerprint = "0123456789abcdef0123456789abcdef";

TEST(Notice, IsReadBackAsItWasWritten) {
    for (const auto port : std::initializer_list<std::uint16_t>{1, 7323, 65535}) {
        const auto found = read_notice(notice(port, fingerprint), "192.0.2.7");
        ASSERT_TRUE(found);
        EXPECT_EQ(found->host, "192.0.2.7");
        EXPECT_EQ(found->port, port);
        EXPECT_EQ(found->fingerprint, fingerprint);
    }
}

TEST(Notice, ThatIsNoneIsNotTaken) {
    const auto print = base32(fingerprint);
    for (const auto& text :
         {std::string(), std::string("fieldpeg 1 ?"), std::string("fieldpeg 1 "),
          std::string("fieldpeg 1 7323"), std::string("fieldpeg 1 7323 "),
          "fieldpeg 2 7323 " + print, "fieldpeg 1 0 " + print, "fieldpeg 1 65536 " + print,
          "fieldpeg 1 -1 " + print, "fieldpeg 1  7323 " + print, "fieldpeg 1 7323  " + print,
          "fieldpeg 1 7323/" + print, "fieldpeg 1 7323 " + print + " more",
          "fieldpeg 1 7323 " + print + "aa", "fieldpeg 1 7323 " + print.substr(2),
          "x" + notice(7323, fingerprint), std::string(256, '\xff'), std::string(3, '\0')})
        EXPECT_FALSE(read_notice(text, "192.0.2.7")) << text;
}

TEST(Notice, FitsIntoItsDatagramWithAnyCutShortRefused) {
    const auto whole = notice(65535, fingerprint);
    EXPECT_LT(whole.size(), 256U);
    for (std::size_t size = 0; size < whole.size(); ++size)
        EXPECT_FALSE(read_notice(whole.substr(0, size), "192.0.2.7")) << size;
}

/// A port that nothing listens on.
std::uint16_t free_port() {
    asio::io_context io;
    return udp::socket(io, udp::endpoint(asio::ip::address_v4::loopback(), 0))
        .local_endpoint()
        .port();
}

TEST(BeFound, AnswersTheQuestionAndNothingElse) {
    const auto port = free_port();
    asio::io_context io;
    asio::cancellation_signal stop;
    std::exception_ptr failure;
    asio::co_spawn(io, be_found(port, fingerprint),
                   asio::bind_cancellation_slot(stop.slot(),
                                                [&failure](std::exception_ptr e) { failure = e; }));
    io.poll();  // listens from now on
    std::thread server([&io] { io.run(); });

    asio::io_context here;
    udp::socket socket(here, udp::endpoint(asio::ip::address_v4::loopback(), 0));
    const udp::endpoint to(asio::ip::address_v4::loopback(), port);
    for (int i = 0; i < 3; ++i) {
        for (const auto* text : {"", "fieldpeg 1 ? and more", "fieldpeg 2 ?", "fieldpeg 1 ?"})
            socket.send_to(asio::buffer(std::string_view(text)), to);
        std::array<char, 512> bytes{};
        udp::endpoint from;
        const auto size = socket.receive_from(asio::buffer(bytes), from);
        EXPECT_EQ(std::string_view(bytes.data(), size), notice(port, fingerprint));
    }
    EXPECT_EQ(socket.available(), 0U);

    asio::post(io, [&stop] { stop.emit(asio::cancellation_type::terminal); });
    server.join();
    try {
        if (failure) std::rethrow_exception(failure);
    } catch (const boost::system::system_error& error) {  // it was just about to wait for the next
        EXPECT_EQ(error.code(), asio::error::operation_aborted);
    }
}

}  // namespace
}  // namespace fieldpeg::wire
