#pragma once

#include "server/planning/plan.h"
#include "server/service/keeper.h"
#include "server/service/shared_answers.h"
#include "server/service/timer.h"

#include <boost/asio/any_io_executor.hpp>
#include <boost/asio/awaitable.hpp>
#include <boost/asio/steady_timer.hpp>
#include <boost/asio/thread_pool.hpp>

#include <atomic>
#include <cstdint>
#include <deque>
#include <functional>
#include <map>
#include <memory>
#include <optional>
#include <vector>

namespace fieldpeg::service {

namespace asio = boost::asio;

/// So many questions that take long wait for each other; more are refused.
inline constexpr std::size_t errands_max = 16;

/// Most commands that are decided and committed together.
inline constexpr std::size_t batch_max = 64;

/// UTC in milliseconds. The only clock of the service.
using Clock = std::function<std::int64_t()>;

/// A question that takes long, on its way. Used on the desk's thread.
class Errand {
public:
    // Neither may throw: they are called from the loop.
    using Progressed = std::function<void(const v1::Progress&)>;
    using Done = std::function<void(v1::Answer)>;

    Errand(Progressed progressed, Done done)
        : progressed_(std::move(progressed)), done_(std::move(done)) {}

    /// It is to be answered with what there is.
    void enough() { enough_ = true; }
    /// Nobody waits any longer.
    void forget() {
        forgotten_ = true;
        enough();
        progressed_ = nullptr;
        done_ = nullptr;
    }

private:
    friend class Desk;

    std::atomic<bool> enough_ = false;
    std::atomic<bool> forgotten_ = false;
    Progressed progressed_;
    Done done_;
};

/// All that a session sees of the day. An exception while something is decided, written, computed
/// or told is a mistake of ours, or want of memory: it is the answer to what caused it, a refusal
/// `unavailable`, and ends nothing else. But for one place: between the disk and the state (finish)
/// it must go up, since a state that is behind its log decides wrongly.
///
///  Runs on one thread; only the writing of the log is on
/// another, and questions that take long on a third. Commands wait in a queue, one a session; a
/// batch of them is decided in the order of their coming, committed once, and only then answered.
class Desk {
public:
    /// Told of a change; null: there was one that could not be told, and the snapshot has it.
    using Watcher = std::function<void(const std::shared_ptr<const v1::Change>&)>;

    /// Where the log is written, where the planner computes, and where it is worked out what people
    /// and strangers ask.
    struct Elsewhere {
        asio::any_io_executor log;
        asio::any_io_executor planner;
        asio::any_io_executor people;
        asio::any_io_executor strangers;
    };

    /// All that in threads of its own. The keeper must outlive it.
    Desk(asio::any_io_executor executor, Keeper& keeper, Clock clock);
    Desk(asio::any_io_executor executor, Keeper& keeper, Clock clock, Elsewhere elsewhere);
    ~Desk();

    /// Decides, commits, answers, until closed and all that was asked is answered.
    asio::awaitable<void> run();
    void close();

    asio::awaitable<v1::Reply> submit(Ask ask);
    asio::awaitable<v1::Reply> enter(Entrance entrance);
    /// Answers in turn: people's questions before strangers', one at a time, and whatever else has
    /// come in between two of them, so that no command waits for more than one.
    asio::awaitable<v1::Answer> ask(v1::Query query, Of of);
    /// At once.
    v1::Answer answer(const v1::Query& query);
    /// Begins a question that takes long, about the day as it is now. `progressed` is called now
    /// and then, `done` once, both later, unless the errand is forgotten.
    std::shared_ptr<Errand> begin(const v1::Query& query, Errand::Progressed progressed,
                                  Errand::Done done);

    /// Calls `watcher` after each change, with the same message for everybody.
    std::uint64_t watch(Watcher watcher);
    void unwatch(std::uint64_t watcher);
    /// Everything as it is now; the same message to all who ask before something changes.
    std::shared_ptr<const v1::Change> snapshot();

    /// Somebody's connection began or ended: the board says of whom nothing is heard.
    void came(std::uint32_t person);
    void went(std::uint32_t person);

    /// The day is another server's now, or it is not known what became of a batch: whoever asked is
    /// told nothing, and the desk has closed.
    bool is_over() const { return is_over_; }
    /// Whether what is known here of the day may be told: it may be another server's by now.
    bool may_tell() const { return !is_over_ && keeper_.hold() == log::Hold::sure; }

    const Keeper& keeper() const { return keeper_; }
    std::int64_t now_ms() const { return clock_(); }

private:
    struct Pending;
    struct Question;
    struct Threads;

    asio::awaitable<v1::Reply> queued(std::shared_ptr<Pending> pending);
    std::vector<std::shared_ptr<Pending>> take_batch();
    asio::awaitable<void> time_passes();
    asio::awaitable<void> handle(std::vector<std::shared_ptr<Pending>> batch);
    Result<Keeper::Prepared> prepared(const std::vector<std::shared_ptr<Pending>>& batch);
    asio::awaitable<void> settle(std::vector<std::shared_ptr<Pending>> batch,
                                 Keeper::Prepared prepared);
    void answer_next();
    v1::Answer answered(const v1::Query& query);
    void publish(const std::vector<v1::Event>& events, const std::vector<std::string>& happened);
    void forget_snapshot_of(std::uint32_t person);
    void add_presence(v1::BoardReply& board) const;

    struct Presence {
        int connections = 0;
        std::int64_t last_ms = 0;
    };

    asio::any_io_executor executor_;
    Keeper& keeper_;
    Clock clock_;
    std::unique_ptr<Threads> threads_;  ///< null: it is done elsewhere
    Elsewhere elsewhere_;
    std::vector<std::weak_ptr<Errand>> errands_;
    std::deque<std::shared_ptr<Pending>> queue_;
    std::deque<std::shared_ptr<Question>> questions_, strangers_questions_;
    SharedAnswers shared_;
    Timer arrived_;
    bool closed_ = false;
    bool is_over_ = false;
    std::map<std::uint64_t, Watcher> watchers_;
    std::shared_ptr<const v1::Change> snapshot_;  ///< null: to be made anew
    std::uint64_t last_watcher_ = 0;
    std::map<std::uint32_t, Presence> presence_;
};

}  // namespace fieldpeg::service
