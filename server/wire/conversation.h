#pragma once

#include "server/service/desk.h"
#include "server/wire/frame.h"
#include "server/wire/gate.h"
#include "server/wire/outbox.h"

#include "fieldpeg/v1/wire.pb.h"

#include <boost/asio/any_io_executor.hpp>
#include <boost/asio/awaitable.hpp>
#include <boost/asio/steady_timer.hpp>

#include <cstddef>
#include <exception>
#include <functional>
#include <map>
#include <memory>
#include <optional>
#include <string>
#include <vector>

namespace fieldpeg::wire {

namespace asio = boost::asio;

/// How messages are written for one kind of client. What all of them get is written once.
class Form {
public:
    using Write = std::function<Frame(const v1::ServerFrame&)>;

    explicit Form(Write write) : write_(std::move(write)) {}

    Frame frame(const v1::ServerFrame& m) const { return write_(m); }
    Frame frame(const std::shared_ptr<const v1::Change>& change);
    /// For those whose board is that of `before`.
    Frame frame(const std::shared_ptr<const v1::Change>& change,
                const std::shared_ptr<const v1::Change>& before);
    Frame snapshot(const std::shared_ptr<const v1::Change>& everything);

private:
    /// A message and its bytes, while somebody holds the message.
    struct Written {
        std::weak_ptr<const v1::Change> of;
        Frame bytes;
    };
    using WeakChange = std::weak_ptr<const v1::Change>;
    Frame written(const std::shared_ptr<const v1::Change>& change, Written& last) const;

    Write write_;
    Written last_change_, last_snapshot_;
    WeakChange told_by_changes_;
    std::map<WeakChange, Frame, std::owner_less<>> by_before_;  ///< of that change
};

/// What is said with one client, whatever carries it: requests are answered, changes are passed on,
/// and all of it is owed until the carrier takes it. Knows no sockets.
class Conversation {
public:
    /// Desk, form and gate must outlive it. `from` is who pays for what is asked without a key.
    Conversation(const asio::any_io_executor& executor, service::Desk& desk, Form& form, Gate& gate,
                 Gate::Address from, std::size_t changes_queued);
    ~Conversation();  // NOLINT(bugprone-exception-escape): only for want of memory

    Conversation(const Conversation&) = delete;
    Conversation& operator=(const Conversation&) = delete;

    /// Somebody who has a key, by its hash, is let in. Without this the client only looks.
    void let_in(const v1::Person& person, std::string key_hash);
    /// The first thing that is said.
    void welcome();

    /// Does what the client wants, once it is owed little enough (outbox.h), and it is its turn
    /// (gate.h): until then nothing more is to be read from it. False: the conversation ends, and
    /// goodbye() says why.
    asio::awaitable<bool> take(v1::ClientFrame frame);
    /// The next frame that is owed, once there is one, and the one before has arrived; null when
    /// cancelled, or when the client is welcome no longer.
    asio::awaitable<Frame> next();

    /// Why it ends; the first reason stays.
    void refuse(v1::Refusal why);
    /// It ends at once: whatever is waited for here is waited for no longer.
    void leave(v1::Refusal why);
    /// It ends by a mistake of ours.
    void fail(const std::exception& mistake);
    /// The last frame.
    Frame goodbye() const;

private:
    bool is_welcome();
    const v1::Person* who() const;
    void follow_who_they_are();
    bool may_only_look() const;
    asio::awaitable<bool> room();
    asio::awaitable<bool> turn(double weight);
    asio::awaitable<void> answer(v1::Request request);
    asio::awaitable<v1::Answer> answer(v1::Query query, std::uint64_t id, bool& comes_later);
    asio::awaitable<v1::Reply> reply(v1::Request request);
    void owe(const v1::ServerFrame& frame);
    void owe_later(const v1::ServerFrame& frame);
    void owe_progress(const v1::Progress& so_far, std::uint64_t id);
    Frame written(const v1::ServerFrame& frame);
    void owe_change(const std::shared_ptr<const v1::Change>& change);
    void watch(bool on, bool by_changes);
    void begin(const v1::Query& query, std::uint64_t id);

    service::Desk& desk_;
    Form& form_;
    Gate& gate_;
    Gate::Address from_;
    Outbox outbox_;
    asio::steady_timer owing_;
    asio::steady_timer room_;
    service::Timer turn_;
    std::optional<std::uint32_t> person_;
    v1::Person welcomed_;                          ///< as they were told that they are
    std::vector<std::string> welcomed_elsewhere_;  ///< and where else the day may be answered
    std::string key_hash_;                         ///< by which they were let in
    std::optional<std::uint64_t> watching_;
    bool by_changes_ = false;
    /// Whose board the client has once it has taken all that it is owed.
    std::shared_ptr<const v1::Change> last_owed_;
    std::shared_ptr<service::Errand> errand_;  ///< one at a time
    std::uint64_t errand_id_ = 0;              ///< of the request
    std::optional<v1::Refusal> goodbye_;
};

v1::Refusal refusal(v1::Refusal::Kind kind, std::string where, std::string why, std::string next);
/// Whether one more may join from there, without a ticket (an empty secret) or with a good one. A
/// wrong one is another matter.
bool may_join(const std::string& secret, const service::Keeper& keeper, Gate& gate,
              const Gate::Address& from);
/// Of one who wants to join, from an address from which too many did.
v1::Refusal too_many_join();
/// Of one whose place somebody else gets.
v1::Refusal others_need_the_place();

}  // namespace fieldpeg::wire
