#pragma once

#include "server/log/day_log.h"
#include "server/log/postgres.h"

#include <atomic>
#include <chrono>
#include <condition_variable>
#include <cstdint>
#include <memory>
#include <mutex>
#include <optional>
#include <stop_token>
#include <string>
#include <thread>
#include <vector>

namespace fieldpeg::log {

/// After so long without a sign of life a day may be taken over, where its holder did not say
/// otherwise. A slow card takes seconds to write; a shorter time would depose who is only slow.
inline constexpr std::chrono::milliseconds silence_default{3000};

/// A sign of life in the database each half second, by a thread and a connection of its own. The
/// fence keeps a holder who was deposed from writing; this keeps them from answering: their word is
/// good only while a sign of theirs was taken less than the silence ago, by a clock that goes on
/// while the machine sleeps. Clocks of two machines are never compared.
class Lease {
public:
    /// Of a day that was just taken under a term.
    Lease(std::string address, std::int64_t day, std::int64_t term,
          std::chrono::milliseconds silence);
    ~Lease();
    Lease(const Lease&) = delete;
    Lease& operator=(const Lease&) = delete;

    Hold hold() const;
    /// Another was seen to have it.
    void lose() { is_lost_ = true; }
    void answered_at(const std::string& address);
    std::vector<std::string> standbys() const;
    /// Of the database's copies: is there one that must be there, and is it?
    LogCheck copies() const;

private:
    void beat_until_stopped(const std::stop_token& stop);
    void beat(std::unique_ptr<Database>& database);
    void look_around(Database& database);

    const std::string address_;
    const std::int64_t day_, term_;
    const std::chrono::milliseconds silence_;
    std::atomic<std::int64_t> last_good_ms_;
    std::atomic<bool> is_lost_ = false;
    bool has_bell_ = false;  ///< of the thread alone
    mutable std::mutex one_at_a_time_;
    std::condition_variable_any stopping_;
    std::optional<std::string> announced_;
    std::vector<std::string> standbys_;
    LogCheck copies_;
    std::jthread thread_;  ///< the last: it uses all of these
};

/// Milliseconds since the machine was started, its sleep among them.
std::int64_t since_boot_ms();

/// The doorbell of a day: whoever has it holds an advisory lock, and whoever waits for the day
/// waits for that too, and so wakes at once when the holder's process ends. It decides nothing.
std::string bell_of(const char* function, std::int64_t day);

}  // namespace fieldpeg::log
