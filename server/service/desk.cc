#include "server/service/desk.h"

#include "server/day/line.h"
#include "server/day/state.h"
#include "server/day/words.h"

#include <fmt/format.h>
#include <spdlog/spdlog.h>
#include <boost/asio/as_tuple.hpp>
#include <boost/asio/co_spawn.hpp>
#include <boost/asio/post.hpp>
#include <boost/asio/this_coro.hpp>
#include <boost/asio/use_awaitable.hpp>

#include <algorithm>
#include <chrono>
#include <exception>
#include <utility>
#include <variant>

namespace fieldpeg::service {
namespace {

/// Where a lapse cannot be written down, it is not tried again at once.
constexpr std::int64_t shortest_wait_ms = 200;

constexpr auto quietly = asio::as_tuple(asio::use_awaitable);

Refusal failed(const std::exception& mistake) {
    spdlog::error("a mistake of the server: {}", mistake.what());
    return {Refusal::Kind::unavailable, "", fmt::format("the server failed: {}", mistake.what()),
            "nothing was recorded; the server's own messages say more"};
}

/// On the log's thread.
asio::awaitable<log::Appended> committed(Keeper& keeper, Keeper::Prepared& prepared) {
    try {
        co_return keeper.commit(prepared);
    } catch (const std::exception& mistake) {
        co_return log::Appended(failed(mistake));
    }
}

v1::Reply refused(const Refusal& why) {
    v1::Reply reply;
    *reply.mutable_refusal() = day::message(why);
    return reply;
}

}  // namespace

struct Desk::Threads {
    asio::thread_pool log{1}, planner{1}, people{1}, strangers{1};
};

struct Desk::Pending {
    Pending(const asio::any_io_executor& executor, std::variant<Ask, Entrance> asked_what)
        : asked(std::move(asked_what)), answered(executor, asio::steady_timer::time_point::max()) {}

    void answer(v1::Reply with) {
        reply = std::move(with);
        answered.cancel();
    }

    std::variant<Ask, Entrance> asked;
    std::optional<v1::Reply> reply;
    asio::steady_timer answered;
};

Desk::Desk(asio::any_io_executor executor, Keeper& keeper, Clock clock)
    : executor_(std::move(executor)),
      keeper_(keeper),
      clock_(std::move(clock)),
      threads_(std::make_unique<Threads>()),
      elsewhere_{threads_->log.get_executor(), threads_->planner.get_executor(),
                 threads_->people.get_executor(), threads_->strangers.get_executor()},
      shared_(executor_, {elsewhere_.people, elsewhere_.strangers},
              SharedAnswers::Rest::of_strangers),
      arrived_(executor_, Timer::time_point::max()) {}

Desk::Desk(asio::any_io_executor executor, Keeper& keeper, Clock clock, Elsewhere elsewhere)
    : executor_(std::move(executor)),
      keeper_(keeper),
      clock_(std::move(clock)),
      elsewhere_(std::move(elsewhere)),
      shared_(executor_, {elsewhere_.people, elsewhere_.strangers}, SharedAnswers::Rest::none),
      arrived_(executor_, Timer::time_point::max()) {}

asio::awaitable<v1::Reply> Desk::submit(Ask ask) {
    auto pending = std::make_shared<Pending>(executor_, std::move(ask));
    return queued(std::move(pending));
}

asio::awaitable<v1::Reply> Desk::enter(Entrance entrance) {
    auto pending = std::make_shared<Pending>(executor_, std::move(entrance));
    return queued(std::move(pending));
}

/// What was asked is decided even if the asker is gone by then: asked again, it is answered alike.
asio::awaitable<v1::Reply> Desk::queued(std::shared_ptr<Pending> pending) {
    queue_.push_back(pending);
    arrived_.cancel();
    while (!pending->reply) {
        const auto state = co_await asio::this_coro::cancellation_state;
        if (state.cancelled() != asio::cancellation_type::none) co_return v1::Reply();
        co_await pending->answered.async_wait(quietly);
    }
    co_return std::move(*pending->reply);
}

/// Who is gone is not waited for: the planner's thread is told that it is enough.
Desk::~Desk() {
    for (const auto& errand : errands_)
        if (const auto open = errand.lock()) open->forget();
}

std::shared_ptr<Errand> Desk::begin(const v1::Query& query, Errand::Progressed progressed,
                                    Errand::Done done) {
    auto errand = std::make_shared<Errand>(std::move(progressed), std::move(done));
    std::erase_if(errands_, [](const auto& one) { return one.expired(); });
    if (errands_.size() >= errands_max) {
        v1::Answer busy;
        *busy.mutable_refusal() =
            day::message({Refusal::Kind::unavailable, "", "others wait for the planner already",
                          "ask again in a minute"});
        asio::post(executor_, [errand, busy] {
            if (errand->done_) errand->done_(busy);
        });
        return errand;
    }
    errands_.push_back(errand);
    asio::post(elsewhere_.planner, [errand, query, executor = executor_, state = keeper_.state()] {
        if (errand->forgotten_) return;
        const auto progress = [&](const v1::Progress& so_far) {
            asio::post(executor, [errand, so_far] {
                if (errand->progressed_) errand->progressed_(so_far);
            });
            return !errand->enough_;
        };
        v1::Answer answer;
        try {
            answer = planning::plan(query, state.sheet(), {progress});
        } catch (const std::exception& error) {  // no memory: the day goes on
            spdlog::error("the planner failed: {}", error.what());
            *answer.mutable_refusal() =
                day::message({Refusal::Kind::unavailable, "",
                              fmt::format("the planner failed: {}", error.what()), ""});
        }
        answer.set_version(state.version());
        asio::post(executor, [errand, answer = std::move(answer)] {
            if (errand->done_) errand->done_(answer);
        });
    });
    return errand;
}

void Desk::close() {
    closed_ = true;
    for (const auto& errand : errands_)
        if (const auto open = errand.lock()) open->enough();
    arrived_.cancel();
}

asio::awaitable<void> Desk::run() {
    while (!is_over_) {
        if (!queue_.empty())
            co_await handle(take_batch());
        else if (closed_)
            co_return;
        else
            co_await time_passes();
    }
}

/// Until something is asked, or the time has come for something that nobody asks for.
asio::awaitable<void> Desk::time_passes() {
    const auto due_ms = day::next_lapse_ms(keeper_.state(), clock_());
    if (!due_ms) {
        arrived_.expires_at(Timer::time_point::max());
        co_await arrived_.async_wait(quietly);
        co_return;
    }
    const auto wait_ms = std::max<std::int64_t>(*due_ms - clock_(), shortest_wait_ms);
    arrived_.expires_after(std::chrono::milliseconds(wait_ms));
    const auto [interrupted] = co_await arrived_.async_wait(quietly);
    if (interrupted || closed_) co_return;
    std::vector<std::shared_ptr<Pending>> nobody;
    co_await handle(std::move(nobody));
}

/// Commands together; somebody who joins, alone.
std::vector<std::shared_ptr<Desk::Pending>> Desk::take_batch() {
    std::vector<std::shared_ptr<Pending>> batch;
    while (!queue_.empty() && batch.size() < batch_max) {
        const bool joins = std::holds_alternative<Entrance>(queue_.front()->asked);
        if (joins && !batch.empty()) break;
        batch.push_back(std::move(queue_.front()));
        queue_.pop_front();
        if (joins) break;
    }
    return batch;
}

Result<Keeper::Prepared> Desk::prepared(const std::vector<std::shared_ptr<Pending>>& batch) {
    try {
        const auto* first = batch.empty() ? nullptr : &batch.front()->asked;
        if (const auto* entrance = first ? std::get_if<Entrance>(first) : nullptr)
            return keeper_.prepare_entrance(*entrance, clock_());
        std::vector<Ask> asks;
        asks.reserve(batch.size());
        for (const auto& pending : batch) asks.push_back(std::get<Ask>(pending->asked));
        return keeper_.prepare(asks, clock_());
    } catch (const std::exception& mistake) {
        return failed(mistake);
    }
}

/// Where something fails among several, each is decided by itself, so that nobody pays for another.
asio::awaitable<void> Desk::handle(std::vector<std::shared_ptr<Pending>> batch) {
    auto decided = this->prepared(batch);
    if (decided) {
        co_await settle(std::move(batch), *std::move(decided));
        co_return;
    }
    if (batch.size() <= 1) {
        for (const auto& pending : batch) pending->answer(refused(decided.error()));
        co_return;
    }
    for (const auto& pending : batch) {
        std::vector<std::shared_ptr<Pending>> alone(1, pending);
        co_await handle(std::move(alone));
    }
}

asio::awaitable<void> Desk::settle(std::vector<std::shared_ptr<Pending>> batch,
                                   Keeper::Prepared prepared) {
    log::Appended result;
    if (!prepared.batch.empty()) {
        auto writing = committed(keeper_, prepared);
        result = co_await asio::co_spawn(elsewhere_.log, std::move(writing), asio::use_awaitable);
    }
    if (!result)
        spdlog::error("the log was not written: {} {}", result.error().where, result.error().why);
    const auto events = result ? prepared.events : std::vector<v1::Event>();
    const auto happened = prepared.happened;
    auto replies = keeper_.finish(std::move(prepared), result);
    if (!result.may_go_on()) {  // nobody is told anything: they ask again, and whoever has the day
                                // answers
        is_over_ = true;
        close();
        co_return;
    }
    for (std::size_t i = 0; i < batch.size(); ++i) batch[i]->answer(std::move(replies[i]));
    if (events.empty() || watchers_.empty()) co_return;
    co_await asio::post(executor_, asio::use_awaitable);  // those who asked are answered first
    publish(events, happened);
}

void Desk::publish(const std::vector<v1::Event>& events, const std::vector<std::string>& happened) {
    std::shared_ptr<v1::Change> change;
    try {
        change = std::make_shared<v1::Change>(keeper_.change(events, happened));
        add_presence(*change->mutable_board());
    } catch (const std::exception& mistake) {
        spdlog::error("a change was not told: {}", mistake.what());
        change.reset();
    }
    for (const auto& [id, watcher] : watchers_) watcher(change);
}

struct Desk::Question {
    Question(const asio::any_io_executor& executor, v1::Query asked)
        : query(std::move(asked)), answered(executor, asio::steady_timer::time_point::max()) {}

    v1::Query query;
    std::optional<v1::Answer> answer;
    asio::steady_timer answered;
};

asio::awaitable<v1::Answer> Desk::ask(v1::Query query, Of of) {
    if (SharedAnswers::takes(query)) {
        auto answer = co_await shared_.ask(std::move(query), of, keeper_.state());
        co_return answer;
    }
    auto question = std::make_shared<Question>(executor_, std::move(query));
    if (questions_.empty() && strangers_questions_.empty())
        asio::post(executor_, [this] { answer_next(); });
    (of == Of::people ? questions_ : strangers_questions_).push_back(question);
    while (!question->answer) {
        const auto state = co_await asio::this_coro::cancellation_state;
        if (state.cancelled() != asio::cancellation_type::none) co_return v1::Answer();
        co_await question->answered.async_wait(quietly);
    }
    co_return std::move(*question->answer);
}

/// One, and the next once all that has come meanwhile had its turn.
void Desk::answer_next() {
    auto& from = questions_.empty() ? strangers_questions_ : questions_;
    const auto question = from.front();
    from.pop_front();
    question->answer = answer(question->query);
    question->answered.cancel();
    if (!questions_.empty() || !strangers_questions_.empty())
        asio::post(executor_, [this] { answer_next(); });
}

v1::Answer Desk::answer(const v1::Query& query) {
    try {
        return answered(query);
    } catch (const std::exception& mistake) {
        v1::Answer answer;
        *answer.mutable_refusal() = day::message(failed(mistake));
        return answer;
    }
}

v1::Answer Desk::answered(const v1::Query& query) {
    const bool now = query.moment().version() == 0 && query.moment().at_ms() == 0;
    if (!query.has_board() || !now) return keeper_.answer(query, clock_());
    v1::Answer answer;
    *answer.mutable_board() = snapshot()->board();
    answer.set_version(keeper_.state().version());
    return answer;
}

std::uint64_t Desk::watch(Watcher watcher) {
    watchers_[++last_watcher_] = std::move(watcher);
    return last_watcher_;
}

void Desk::unwatch(std::uint64_t watcher) {
    watchers_.erase(watcher);
}

std::shared_ptr<const v1::Change> Desk::snapshot() {
    if (snapshot_ && snapshot_->version() == keeper_.state().version()) return snapshot_;
    auto change = std::make_shared<v1::Change>(keeper_.change({}, {}));
    add_presence(*change->mutable_board());
    snapshot_ = std::move(change);
    return snapshot_;
}

void Desk::came(std::uint32_t person) {
    forget_snapshot_of(person);
    ++presence_[person].connections;
}

void Desk::went(std::uint32_t person) {
    forget_snapshot_of(person);
    auto& presence = presence_[person];
    --presence.connections;
    presence.last_ms = clock_();
}

/// Most phones are of people of whom the board does not say whether they are heard: their coming
/// back, all at once behind a loss of the Wi-Fi, makes no new board.
void Desk::forget_snapshot_of(std::uint32_t person) {
    if (!snapshot_) return;
    const auto& rows = snapshot_->board().rows();
    const bool is_on_board = std::ranges::any_of(rows, [&](const auto& row) {
        const auto* owner = day::person(keeper_.state(), row.owner());
        return owner && owner->id() == person;
    });
    if (is_on_board) snapshot_.reset();
}

void Desk::add_presence(v1::BoardReply& board) const {
    for (auto& row : *board.mutable_rows()) {
        if (!day::radiates(row.stage()) || row.is_sighting()) continue;
        const auto* owner = day::person(keeper_.state(), row.owner());
        if (!owner) continue;  // entered by the marshal, who speaks for them
        const auto known = presence_.find(owner->id());
        if (known == presence_.end())
            row.set_heard_from_ms(0);
        else if (known->second.connections == 0)
            row.set_heard_from_ms(known->second.last_ms);
    }
}

}  // namespace fieldpeg::service
