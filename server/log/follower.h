#pragma once

#include "server/log/postgres_log.h"
#include "server/refusal/refusal.h"

#include <cstdint>
#include <memory>
#include <optional>
#include <string>

namespace fieldpeg::log {

/// Waits beside the server that has a day in a database, to take it over: at once when that one's
/// process ends, and when it shows no sign of life for as long as it said.
class Follower {
public:
    /// `address`: where clients will find us. Refuses what is no place in a database, or where
    /// nobody answers.
    static Result<std::unique_ptr<Follower>> begin(std::string place, std::string address);

    struct Sight {
        bool answers = false;   ///< the database does
        bool may_take = false;  ///< nobody has the day, or whoever had it is silent
        std::string holder;     ///< where the one is that has it; empty: not known
    };
    /// To be called ten times a second; waits for the database for seconds at most.
    Sight look();
    /// After `may_take`. Refuses where another was first: then look on.
    Result<std::unique_ptr<DayLog>> take();

private:
    Follower(std::string place, std::string address);
    bool connect();
    void say_that_we_wait();
    bool is_rung(const DaySeen& now);

    const std::string place_, address_;
    std::unique_ptr<Database> database_;
    std::unique_ptr<Database> bell_;  ///< waits for the doorbell
    std::int64_t asked_under_term_ = 0;
    std::int64_t asks_again_ms_ = 0;
    std::optional<DaySeen> seen_;
    std::int64_t changed_ms_ = 0;
    std::int64_t said_ms_ = 0;
};

}  // namespace fieldpeg::log
