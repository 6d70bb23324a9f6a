#pragma once

#include "server/wire/frame.h"

#include <cstddef>
#include <deque>
#include <optional>
#include <utility>

namespace fieldpeg::wire {

/// What a client is still owed. Answers are few, since a client is read no further than its last
/// question; changes are never more than `limit`.
///
/// A client that falls behind loses the changes and is owed one fresh snapshot instead, so a slow
/// reader costs a bounded amount of memory and is never shown a history with a hole in it.
class Outbox {
public:
    explicit Outbox(std::size_t limit) : limit_(limit) {}

    void answer(Frame frame) { answers_.push_back(std::move(frame)); }

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

    std::optional<Frame> pop() {
        auto& from = answers_.empty() ? changes_ : answers_;
        if (from.empty()) return std::nullopt;
        auto frame = std::move(from.front());
        from.pop_front();
        return frame;
    }

    bool needs_snapshot() const { return needs_snapshot_; }
    std::size_t size() const { return answers_.size() + changes_.size(); }

private:
    std::size_t limit_;
    std::deque<Frame> answers_;
    std::deque<Frame> changes_;
    bool needs_snapshot_ = false;
};

}  // namespace fieldpeg::wire
