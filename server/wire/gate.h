#pragma once

#include <boost/asio/ip/address.hpp>

#include <chrono>
#include <cstddef>
#include <map>

namespace fieldpeg::wire {

/// Slows down those who guess: an address that fails too often is not listened to for a while.
class Gate {
public:
    using Time = std::chrono::steady_clock::time_point;

    static constexpr int failures_max = 5;
    static constexpr std::chrono::seconds closed_for{30};
    static constexpr std::size_t addresses_max = 4096;

    bool admits(const boost::asio::ip::address& from, Time now) const {
        const auto known = failures_.find(from);
        return known == failures_.end() || known->second.count < failures_max ||
               now - known->second.last >= closed_for;
    }

    void failed(const boost::asio::ip::address& from, Time now) {
        if (failures_.size() >= addresses_max)
            std::erase_if(failures_,
                          [&](const auto& one) { return now - one.second.last >= closed_for; });
        if (failures_.size() >= addresses_max && !failures_.contains(from)) return;
        auto& one = failures_[from];
        if (now - one.last >= closed_for) one.count = 0;
        ++one.count;
        one.last = now;
    }

    void succeeded(const boost::asio::ip::address& from) { failures_.erase(from); }

private:
    struct Failures {
        int count = 0;
        Time last{};
    };
    std::map<boost::asio::ip::address, Failures> failures_;
};

}  // namespace fieldpeg::wire
