#include "server/service/shared_answers.h"

#include "server/day/words.h"
#include "server/service/answer.h"

#include <fmt/format.h>
#include <spdlog/spdlog.h>
#include <boost/asio/as_tuple.hpp>
#include <boost/asio/post.hpp>
#include <boost/asio/this_coro.hpp>
#include <boost/asio/use_awaitable.hpp>

#include <chrono>
#include <exception>
#include <thread>
#include <utility>

namespace fieldpeg::service {
namespace {

constexpr auto quietly = asio::as_tuple(asio::use_awaitable);

v1::Answer refused(const std::string& why, const std::string& next) {
    v1::Answer answer;
    *answer.mutable_refusal() = day::message({Refusal::Kind::unavailable, "", why, next});
    return answer;
}

v1::Answer worked_out(const v1::Query& query, const v1::DaySheet& sheet) {
    try {
        return answer(query, &sheet);
    } catch (const std::exception& mistake) {  // no memory: the day goes on
        spdlog::error("a mistake of the server: {}", mistake.what());
        return refused(fmt::format("the server failed: {}", mistake.what()),
                       "the server's own messages say more");
    }
}

}  // namespace

struct SharedAnswers::Work {
    Work(const asio::any_io_executor& loop, v1::Query asked)
        : query(std::move(asked)), done(loop, asio::steady_timer::time_point::max()) {}

    v1::Query query;
    std::uint64_t version = 0;  ///< of the day that it is worked out for; 0: not begun
    std::optional<v1::Answer> answer;
    asio::steady_timer done;
};

SharedAnswers::SharedAnswers(asio::any_io_executor loop, Workers workers, Rest rest)
    : loop_(std::move(loop)), rest_(rest) {
    lane(Of::people).worker = std::move(workers.people);
    lane(Of::strangers).worker = std::move(workers.strangers);
}

bool SharedAnswers::takes(const v1::Query& query) {
    if (query.moment().version() != 0 || query.moment().at_ms() != 0) return false;
    switch (query.ask_case()) {
        case v1::Query::kCheck:
        case v1::Query::kExplain:
        case v1::Query::kReach:
        case v1::Query::kFind:
        case v1::Query::kRelayCheck:
        case v1::Query::kSpectrumPicture:
        case v1::Query::kReachPicture:
        case v1::Query::kFieldPicture:
            return true;
        default:
            return false;
    }
}

/// The day as it is now; answers for one before are forgotten.
void SharedAnswers::keep(const v1::DayState& state) {
    if (sheet_ && version_ == state.version()) return;
    sheet_ = std::make_shared<const v1::DaySheet>(state.sheet());
    version_ = state.version();
    kept_.clear();
}

/// One that is waited for already, or was worked out for this version, or a new one. Null: too many
/// wait.
std::shared_ptr<SharedAnswers::Work> SharedAnswers::work(v1::Query query, Of of,
                                                         const v1::DayState& state) {
    keep(state);
    std::erase_if(known_, [](const auto& one) { return one.second.expired(); });
    auto& known = known_[query.SerializeAsString()];
    if (auto one = known.lock(); one && (one->version == 0 || one->version == version_)) return one;
    auto& waiting = lane(of).waiting;
    std::erase_if(waiting, [](const auto& one) { return one.expired(); });
    if (waiting.size() >= questions_waiting_max) return nullptr;
    auto one = std::make_shared<Work>(loop_, std::move(query));
    known = one;
    waiting.push_back(one);
    return one;
}

asio::awaitable<v1::Answer> SharedAnswers::ask(v1::Query query, Of of, const v1::DayState& state) {
    const auto one = work(std::move(query), of, state);
    if (!one) co_return refused("others wait for their answers already", "ask again in a moment");
    begin(of);
    while (!one->answer) {
        const auto cancelled = co_await asio::this_coro::cancellation_state;
        if (cancelled.cancelled() != asio::cancellation_type::none) co_return v1::Answer();
        co_await one->done.async_wait(quietly);
    }
    co_return *one->answer;
}

/// The next one that somebody still waits for, unless one is being worked out.
void SharedAnswers::begin(Of of) {
    auto& lane = this->lane(of);
    while (!lane.works && !lane.waiting.empty()) {
        auto next = lane.waiting.front().lock();
        lane.waiting.pop_front();
        if (!next) continue;
        lane.works = true;
        next->version = version_;
        const bool rests = of == Of::strangers && rest_ == Rest::of_strangers;
        asio::post(lane.worker, [this, of, rests, next = std::move(next), sheet = sheet_,
                                 loop = loop_]() mutable {
            const auto began = std::chrono::steady_clock::now();
            auto answer = worked_out(next->query, *sheet);
            answer.set_version(next->version);
            const auto took = std::chrono::steady_clock::now() - began;
            asio::post(loop, [this, of, next = std::move(next), answer = std::move(answer)] {
                finish(next, answer, of);
            });
            if (rests) std::this_thread::sleep_for(took);
        });
    }
}

void SharedAnswers::finish(const std::shared_ptr<Work>& work, v1::Answer answer, Of of) {
    work->answer = std::move(answer);
    work->done.cancel();
    if (work->version == version_) kept_.push_back(work);
    if (kept_.size() > answers_kept_max) kept_.pop_front();
    lane(of).works = false;
    begin(of);
}

}  // namespace fieldpeg::service
