#include "tests/support/gear.h"

#include "server/book/library.h"
#include "server/day/gear.h"

#include <stdexcept>
#include <string>

namespace fieldpeg::testing {
namespace {

template <class List>
const auto& named(const List& list, std::string_view name) {
    for (const auto& one : list)
        if (one.name() == name) return one;
    throw std::logic_error("no such gear: " + std::string(name));
}

}  // namespace

spectrum::Emission emission(std::string_view name) {
    return day::emission(named(book::library().emissions(), name));
}

spectrum::ReceiverProfile receiver(std::string_view name) {
    return day::receiver_profile(named(book::library().receivers(), name));
}

spectrum::AntennaPattern antenna(std::string_view name) {
    return day::antenna_pattern(named(book::library().antennas(), name));
}

}  // namespace fieldpeg::testing
