#pragma once

#include "fieldpeg/v1/day.pb.h"
#include "fieldpeg/v1/query.pb.h"

#include <boost/asio/any_io_executor.hpp>
#include <boost/asio/awaitable.hpp>
#include <boost/asio/steady_timer.hpp>

#include <array>
#include <cstddef>
#include <cstdint>
#include <deque>
#include <map>
#include <memory>
#include <optional>
#include <string>

namespace fieldpeg::service {

namespace asio = boost::asio;

/// Who asks: strangers have shown no key.
enum class Of { people, strangers };

/// So many questions of one kind of asker wait to be worked out; more are refused.
inline constexpr std::size_t questions_waiting_max = 64;
/// So many answers are kept for others who ask the same of the same version.
inline constexpr std::size_t answers_kept_max = 64;

/// Answers to questions about the day as it is that take tens of milliseconds: worked out away from
/// the loop, once for all who ask the same of the same version, people's and strangers' apart.
/// Used on the loop's thread.
class SharedAnswers {
public:
    /// Where it is worked out, each on one thread.
    struct Workers {
        asio::any_io_executor people;
        asio::any_io_executor strangers;
    };
    /// Whoever works for strangers may rest as long as it worked, so that a machine of two cores
    /// has one for everybody else.
    enum class Rest { none, of_strangers };

    SharedAnswers(asio::any_io_executor loop, Workers workers, Rest rest);

    /// Whether a question is of this kind: its answer follows from it and the day alone.
    static bool takes(const v1::Query& query);

    /// Of a day that is at least of this version.
    asio::awaitable<v1::Answer> ask(v1::Query query, Of of, const v1::DayState& state);

private:
    struct Work;
    struct Lane {
        asio::any_io_executor worker;
        std::deque<std::weak_ptr<Work>> waiting;
        bool works = false;
    };

    Lane& lane(Of of) { return lanes_[of == Of::people ? 0 : 1]; }
    std::shared_ptr<Work> work(v1::Query query, Of of, const v1::DayState& state);
    void begin(Of of);
    void finish(const std::shared_ptr<Work>& work, v1::Answer answer, Of of);
    void keep(const v1::DayState& state);

    asio::any_io_executor loop_;
    Rest rest_;
    std::array<Lane, 2> lanes_;
    std::map<std::string, std::weak_ptr<Work>> known_;  ///< by the question
    std::deque<std::shared_ptr<Work>> kept_;            ///< answers for this version
    std::shared_ptr<const v1::DaySheet> sheet_;         ///< as it was asked about last
    std::uint64_t version_ = 0;                         ///< of it
};

}  // namespace fieldpeg::service
