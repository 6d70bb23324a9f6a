#include "server/wire/places.h"

#include <algorithm>
#include <map>
#include <utility>

namespace fieldpeg::wire {

std::size_t Places::count(const Which& which) const {
    return static_cast<std::size_t>(std::ranges::count_if(
        held_, [&](const Held& one) { return !one.is_leaving && which(one); }));
}

std::size_t Places::size() const {
    return count([](const Held&) { return true; });
}

bool Places::first_leaves(const Which& which) {
    const auto first =
        std::ranges::find_if(held_, [&](const Held& one) { return !one.is_leaving && which(one); });
    if (first == held_.end()) return false;
    first->is_leaving = true;
    first->leave();
    return true;
}

/// Of the address that has most of them.
bool Places::a_stranger_leaves() {
    std::map<Address, std::size_t> strangers;
    for (const auto& one : held_)
        if (!one.is_leaving && !one.person) ++strangers[one.from];
    if (strangers.empty()) return false;
    const auto most =
        std::ranges::max_element(strangers, {}, [](const auto& address) { return address.second; });
    return first_leaves([&](const Held& one) { return !one.person && one.from == most->first; });
}

std::unique_ptr<Places::Place> Places::take(const Address& from, std::function<void()> leave) {
    const Which is_stranger_there = [&](const Held& one) {
        return !one.person && one.from == from;
    };
    if (count(is_stranger_there) >= limits_.of_address) first_leaves(is_stranger_there);
    if (size() >= limits_.all && !a_stranger_leaves()) return nullptr;
    held_.push_back({from, std::move(leave), std::nullopt});
    return std::make_unique<Place>(*this, std::prev(held_.end()));
}

void Places::Place::belongs_to(std::uint32_t person) {
    const Which is_theirs = [&](const Held& one) { return one.person == person; };
    if (of_.count(is_theirs) >= of_.limits_.of_person) of_.first_leaves(is_theirs);
    seat_->person = person;
}

}  // namespace fieldpeg::wire
