#pragma once

#include "server/wire/frame_channel.h"
#include "server/wire/within.h"

#include <boost/asio/awaitable.hpp>
#include <boost/asio/buffer.hpp>
#include <boost/system/error_code.hpp>

namespace fieldpeg::wire {

/// Moves bytes that come over a stream into a channel, as many as there are. Both must outlive it.
template <class Stream>
asio::awaitable<boost::system::error_code> receive(Stream& stream, FrameChannel& channel) {
    const auto room = channel.room();
    const auto [error, count] =
        co_await stream.async_read_some(asio::buffer(room.data(), room.size()), quietly);
    channel.arrived(count);
    co_return error;
}

/// Moves what a channel has to send over a stream, all of it. Both must outlive it.
template <class Stream>
asio::awaitable<boost::system::error_code> flush(Stream& stream, FrameChannel& channel) {
    while (!channel.unsent().empty()) {
        const auto bytes = channel.unsent();
        const auto [error, count] =
            co_await stream.async_write_some(asio::buffer(bytes.data(), bytes.size()), quietly);
        channel.sent(count);
        if (error) co_return error;
    }
    co_return boost::system::error_code();
}

}  // namespace fieldpeg::wire
