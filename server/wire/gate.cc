#include "server/wire/gate.h"

#include <algorithm>
#include <utility>

namespace fieldpeg::wire {
namespace {

/// Whose an address is: a machine that has been given a network of the sixth version may speak from
/// 2^64 addresses of it [RFC4291, 2.5.1].
Gate::Address owner_of(const Gate::Address& from) {
    if (from.is_v4()) return from;
    const auto six = from.to_v6();
    if (six.is_v4_mapped())
        return boost::asio::ip::make_address_v4(boost::asio::ip::v4_mapped, six);
    if (six.is_link_local() || six.is_loopback()) return from;
    auto bytes = six.to_bytes();
    std::fill(bytes.begin() + 8, bytes.end(), static_cast<unsigned char>(0));
    return boost::asio::ip::address_v6(bytes);
}

}  // namespace

template <class Who>
Pace& Gate::Paces<Who>::of(const Who& who, Time now, std::size_t most) {
    if (const auto known = known_.find(who); known != known_.end()) return known->second;
    if (known_.size() >= most)
        std::erase_if(known_, [&](auto& one) { return one.second.is_rested(now); });
    if (known_.size() >= most) return crowd_;
    return known_.emplace(who, Pace(rate_)).first->second;
}

Gate::Gate(Rates rates)
    : strangers_(rates.strangers),
      arrivals_(rates.arrivals),
      joining_(rates.joining),
      knocks_(rates.knocks),
      persons_(rates.person),
      marshals_(rates.marshal) {}

Gate::Wait Gate::failed(const Address& from, Time now) {
    const auto is_forgotten = [&](const auto& one) {
        return now - one.second.last >= remembered_for;
    };
    if (failures_.size() >= addresses_max) std::erase_if(failures_, is_forgotten);
    const auto owner = owner_of(from);
    if (failures_.size() >= addresses_max && !failures_.contains(owner)) return guesser_wait;
    auto& one = failures_[owner];
    if (now - one.last >= remembered_for) one.count = 0;
    ++one.count;
    one.last = now;
    return one.count <= failures_max ? Wait(failed_wait) : Wait(guesser_wait);
}

bool Gate::takes_knock(const Address& from, Time now) {
    return knocks_.of(owner_of(from), now, addresses_max).takes(now, 1);
}

bool Gate::takes_joining(const Address& from, Time now) {
    return joining_.of(owner_of(from), now, addresses_max).takes(now, 1);
}

Gate::Wait Gate::arrived(const Address& from, Time now) {
    return arrivals_.of(owner_of(from), now, addresses_max).taken(now, 1);
}

Gate::Wait Gate::asked(const Address& from, Time now, double weight) {
    return strangers_.of(owner_of(from), now, addresses_max).taken(now, weight);
}

Gate::Wait Gate::asked(std::uint32_t person, bool is_marshal, Time now, double weight) {
    auto& all = is_marshal ? marshals_ : persons_;
    return all.of(person, now, persons_max).taken(now, weight);
}

}  // namespace fieldpeg::wire
