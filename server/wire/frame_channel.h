#pragma once

#include "server/refusal/refusal.h"
#include "server/wire/frame.h"

#include <google/protobuf/message.h>

#include <cstddef>
#include <deque>
#include <optional>
#include <span>
#include <string_view>
#include <vector>

namespace fieldpeg::wire {

/// One end of a connection without the connection: bytes come in and messages, or a refusal, go
/// out; frames come in and bytes go out. Whoever has a socket moves the bytes (frame_stream.h).
/// Server and client read and write by this alone.
class FrameChannel {
public:
    /// Takes messages of at most so many bytes.
    explicit FrameChannel(std::size_t in_max) : in_max_(in_max) {}
    /// From the next message on.
    void allow(std::size_t in_max) { in_max_ = in_max; }

    /// Where the bytes go that come next, never none; good until they have arrived. Of a message
    /// that is announced as long it grows with what has come of it: nobody is given memory for a
    /// length alone.
    std::span<char> room();
    /// So many have been put there.
    void arrived(std::size_t count);

    /// The next whole message. False: more bytes are needed. A refusal: what comes makes no sense,
    /// and nothing after it will.
    template <class Message>
    Result<bool> next(Message& into) {
        const auto body = next_body();
        if (!body) return body.error();
        if (!body->data()) return false;
        if (!into.ParseFromArray(body->data(), static_cast<int>(body->size())))
            return refuse({Refusal::Kind::malformed, "frame", "is no message of this protocol",
                           "connect again"});
        if (has_room_for(into, body->size())) return true;
        into.Clear();
        return refuse(
            {Refusal::Kind::out_of_range, "frame", "has too many parts", "send it in several"});
    }

    void send(Frame frame);
    /// What is to be sent next; empty: nothing is.
    std::string_view unsent() const;
    /// So many bytes of it have been.
    void sent(std::size_t count);

private:
    Result<std::string_view> next_body();
    bool has_room_for(const google::protobuf::Message& message, std::size_t size) const;
    Refusal refuse(Refusal why);
    std::string_view held() const { return {bytes_.data() + begin_, end_ - begin_}; }

    std::size_t in_max_;
    std::vector<char> bytes_;  ///< from begin_ to end_ they have come and were not taken
    std::size_t begin_ = 0;
    std::size_t end_ = 0;
    std::optional<Refusal> refused_;
    std::deque<Frame> frames_;
    std::size_t sent_ = 0;  ///< of the first
};

}  // namespace fieldpeg::wire
