#pragma once

#include "server/wire/frame.h"

#include <cstddef>
#include <deque>
#include <optional>
#include <utility>

namespace fieldpeg::wire {

/// So many answers, and so many bytes of them, may be owed to one client before the next of its
/// requests is taken.
inline constexpr std::size_t answers_owed_max = 8;
inline constexpr std::size_t answer_bytes_owed_max = std::size_t{256} * 1024;

/// What a client is still owed: of answers as many as `has_room` lets come, and one more of any
/// length; of a progress the last word; of changes never more than `limit`.
///
/// A client that falls behind loses the changes and is owed one fresh snapshot instead, so a slow
/// reader costs a bounded amount of memory and is never shown a history with a hole in it.
class Outbox {
public:
    explicit Outbox(std::size_t limit) : limit_(limit) {}

    void answer(Frame frame) {
        answer_bytes_ += frame->size();
        answers_.push_back(std::move(frame));
    }
    /// Whether another request may be answered. What was taken last counts until the next is: it
    /// may be on its way for long.
    bool has_room() const {
        return answers_.size() + (on_its_way_ ? 1 : 0) < answers_owed_max &&
               answer_bytes_ < answer_bytes_owed_max;
    }
    /// Of answers that are owed.
    std::size_t answer_bytes() const { return answer_bytes_; }

    /// In the place of the word before; null: there is none to tell any more.
    void progress(Frame word) { progress_ = std::move(word); }

    void push(Frame change) {
        if (needs_snapshot_) return;
        if (changes_.size() == limit_) {
            owe_snapshot();
            return;
        }
        changes_.push_back(std::move(change));
    }

    void owe_snapshot() {
        changes_.clear();
        needs_snapshot_ = true;
    }

    /// Everything queued up to now is part of `snapshot`.
    void resume_from(Frame snapshot) {
        changes_.clear();
        changes_.push_back(std::move(snapshot));
        needs_snapshot_ = false;
    }

    /// The next; what was taken before has arrived.
    std::optional<Frame> pop() {
        if (on_its_way_) answer_bytes_ -= on_its_way_->size();
        on_its_way_.reset();
        if (!answers_.empty()) return on_its_way_ = taken_from(answers_);
        if (progress_) return std::exchange(progress_, nullptr);
        if (!changes_.empty()) return taken_from(changes_);
        return std::nullopt;
    }

    bool needs_snapshot() const { return needs_snapshot_; }
    std::size_t size() const { return answers_.size() + changes_.size() + (progress_ ? 1 : 0); }

private:
    static Frame taken_from(std::deque<Frame>& queue) {
        auto frame = std::move(queue.front());
        queue.pop_front();
        return frame;
    }

    std::size_t limit_;
    std::deque<Frame> answers_;
    Frame on_its_way_;  ///< an answer that was taken last; null: it was none
    std::size_t answer_bytes_ = 0;
    Frame progress_;
    std::deque<Frame> changes_;
    bool needs_snapshot_ = false;
};

}  // namespace fieldpeg::wire
