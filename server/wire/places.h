#pragma once

#include <boost/asio/ip/address.hpp>

#include <cstddef>
#include <cstdint>
#include <functional>
#include <list>
#include <memory>
#include <optional>

namespace fieldpeg::wire {

/// Places for connections, and who has them. Where there are no more, whoever has come takes that
/// of the stranger who came first from the address that has most: so somebody with a thousand
/// connections loses their own, and keeps nobody out.
class Places {
public:
    using Address = boost::asio::ip::address;

    struct Limits {
        std::size_t all = 1000;
        std::size_t of_address = 200;  ///< of strangers: a router may stand for many phones
        std::size_t of_person = 40;    ///< on all of their devices
    };

    explicit Places(Limits limits) : limits_(limits) {}
    Places(const Places&) = delete;
    Places& operator=(const Places&) = delete;

private:
    struct Held {
        Address from;
        std::function<void()> leave;
        std::optional<std::uint32_t> person;
        bool is_leaving = false;
    };
    using Seat = std::list<Held>::iterator;

public:
    /// One connection's, given back when this is gone. Places must outlive it.
    class Place {
    public:
        Place(Places& of, Seat seat) : of_(of), seat_(seat) {}
        ~Place() { of_.held_.erase(seat_); }
        Place(const Place&) = delete;
        Place& operator=(const Place&) = delete;

        /// They have shown a key. Of more connections than a person may have, the first ends.
        void belongs_to(std::uint32_t person);

    private:
        Places& of_;
        Seat seat_;
    };

    /// For one who has come. `leave` is called once if somebody else needs the place more; it ends
    /// the connection. Null: all places are of people who are known.
    std::unique_ptr<Place> take(const Address& from, std::function<void()> leave);

    std::size_t size() const;

private:
    using Which = std::function<bool(const Held&)>;

    std::size_t count(const Which& which) const;
    bool first_leaves(const Which& which);
    bool a_stranger_leaves();

    Limits limits_;
    std::list<Held> held_;  ///< in the order of their coming
};

}  // namespace fieldpeg::wire
