#include "server/wire/frame_channel.h"

#include <boost/assert.hpp>

#include <algorithm>
#include <utility>

namespace fieldpeg::wire {
namespace {

/// Read at once; most requests fit, several of them.
constexpr std::size_t room_least = 4096;

}  // namespace

std::span<char> FrameChannel::room() {
    if (begin_ == end_) {  // what a long message needed is not kept for a client that is silent
        begin_ = end_ = 0;
        if (bytes_.size() > room_least) std::vector<char>().swap(bytes_);
    } else if (begin_ > 0) {
        bytes_.erase(bytes_.begin(), bytes_.begin() + static_cast<std::ptrdiff_t>(begin_));
        end_ -= std::exchange(begin_, 0);
    }
    const auto wanted = end_ + std::max(room_least, end_);
    if (bytes_.size() < wanted) bytes_.resize(wanted);
    return std::span(bytes_).subspan(end_);
}

void FrameChannel::arrived(std::size_t count) {
    BOOST_ASSERT(count <= bytes_.size() - end_);
    end_ += count;
}

/// Without data: it has not come yet. It is good until more bytes come.
Result<std::string_view> FrameChannel::next_body() {
    if (refused_) return *refused_;
    const auto all = held();
    if (all.size() < length_bytes) return std::string_view();
    const auto size = body_size(all.substr(0, length_bytes), in_max_);
    if (!size) return refuse(size.error());
    if (all.size() < length_bytes + *size) return std::string_view();
    begin_ += length_bytes + *size;
    return all.substr(length_bytes, *size);
}

/// Short ones are not measured: they cannot be that large.
bool FrameChannel::has_room_for(const google::protobuf::Message& message, std::size_t size) const {
    constexpr std::size_t most_times = 256;
    const auto most = in_max_ * room_times;
    return size <= most / most_times || message.SpaceUsedLong() <= std::max(most, room_least);
}

Refusal FrameChannel::refuse(Refusal why) {
    refused_ = std::move(why);
    return *refused_;
}

void FrameChannel::send(Frame frame) {
    if (!frame->empty()) frames_.push_back(std::move(frame));
}

std::string_view FrameChannel::unsent() const {
    return frames_.empty() ? std::string_view() : std::string_view(*frames_.front()).substr(sent_);
}

void FrameChannel::sent(std::size_t count) {
    BOOST_ASSERT(count <= unsent().size());
    sent_ += count;
    if (frames_.empty() || sent_ < frames_.front()->size()) return;
    frames_.pop_front();
    sent_ = 0;
}

}  // namespace fieldpeg::wire
