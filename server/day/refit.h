#pragma once

#include "server/day/deciding.h"

#include <cstdint>
#include <string>
#include <vector>

namespace fieldpeg::day {

/// A day that changes under those who hold channels: gives back those held claims that no longer
/// fit, or that somebody would now suffer from. What radiates is a fact and stays.
class Refit {
public:
    /// `changed` have other gear; `touched` are all whose links may be others now.
    Refit(const Given& given, v1::DaySheet after, std::vector<std::uint32_t> changed,
          std::vector<std::uint32_t> touched)
        : given_(given),
          after_(std::move(after)),
          changed_(std::move(changed)),
          touched_(std::move(touched)) {}

    /// Where the club's own limit is another now: what is above it without the marshal's leave.
    void give_back_above_limit(Decision& decision);
    void give_back(Decision& decision);

private:
    bool helps(std::uint32_t id, const std::string& name) const;
    void give_back(std::uint32_t id, const std::string& why, Decision& decision);

    const Given& given_;
    v1::DaySheet after_;
    std::vector<std::uint32_t> changed_;
    std::vector<std::uint32_t> touched_;
};

/// The names of those whose channel a decision takes.
std::vector<std::string> given_back(const Given& given, const Decision& decision);

/// The best for each of some whose channel a decision takes, in the same group: "best for Ann now:
/// R3 at 25 mW".
std::vector<std::string> best_now(const Given& given, const Decision& decision,
                                  const std::vector<std::uint32_t>& ids);

}  // namespace fieldpeg::day
