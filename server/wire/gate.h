#pragma once

#include "server/wire/pace.h"

#include <boost/asio/ip/address.hpp>

#include <chrono>
#include <cstddef>
#include <cstdint>
#include <map>

namespace fieldpeg::wire {

/// What is taken from whom, and how fast [ours]. The unit is a short question or a command; what
/// takes long weighs more.
struct Rates {
    /// Of all at one address who have shown no key: a router's strangers load the page at once.
    Rate strangers{100, 8, 1000};
    /// Of one person, on however many devices.
    Rate person{120, 10, 400};
    /// Of a marshal, who may have scripts.
    Rate marshal{600, 100, 600};
    /// Connections of one address that begin.
    Rate arrivals{200, 50, 100};
    /// Joining with a good ticket from one address: a club in the morning, behind one router.
    Rate joining{60, 0.2};
    /// Without a ticket: behind one router a whole club may stand, whose phones all come as one
    /// address; all the same it leaves a third of those who may wait (day::waiting_max) to others,
    /// and whoever joins over and over again does not fill the log.
    Rate knocks{20, 1.0 / 30};
};

/// Slows down those who guess, those who knock and those who ask too much, and nobody else: an
/// address pays for those who have shown no key, a person for their own. Secrets have 128 bits, so
/// whoever has a good one is let in, whatever else came from their address.
class Gate {
public:
    using Time = Pace::Time;
    using Wait = Pace::Wait;
    using Address = boost::asio::ip::address;

    static constexpr int failures_max = 5;
    static constexpr std::chrono::seconds remembered_for{30};
    static constexpr std::chrono::milliseconds failed_wait{200};
    static constexpr std::chrono::seconds guesser_wait{5};
    static constexpr std::size_t addresses_max = 4096;
    static constexpr std::size_t persons_max = 4096;

    explicit Gate(Rates rates = {});

    /// A wrong ticket or key: how long its answer waits. Long, from where too many came.
    Wait failed(const Address& from, Time now);
    /// Somebody wants to join without a ticket, or has a good one. False: too many did from there.
    bool takes_knock(const Address& from, Time now);
    bool takes_joining(const Address& from, Time now);

    /// How long to wait before one more connection is attended to.
    Wait arrived(const Address& from, Time now);
    /// How long to wait before what a stranger, or a person, asks is taken.
    Wait asked(const Address& from, Time now, double weight);
    Wait asked(std::uint32_t person, bool is_marshal, Time now, double weight);

private:
    /// One pace for each; those of whom nothing is remembered share one once there are too many.
    template <class Who>
    class Paces {
    public:
        explicit Paces(Rate rate) : rate_(rate), crowd_(rate) {}
        Pace& of(const Who& who, Time now, std::size_t most);

    private:
        Rate rate_;
        std::map<Who, Pace> known_;
        Pace crowd_;
    };
    struct Failures {
        int count = 0;
        Time last{};
    };

    std::map<Address, Failures> failures_;
    Paces<Address> strangers_, arrivals_, joining_, knocks_;
    Paces<std::uint32_t> persons_, marshals_;
};

}  // namespace fieldpeg::wire
