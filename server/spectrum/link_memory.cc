#include "server/spectrum/link_memory.h"

#include "server/spectrum/propagation.h"

#include <algorithm>
#include <variant>

namespace fieldpeg::spectrum {
namespace {

/// Whether everything that a link gain depends on is the same, the band apart.
bool are_alike(const Transmitter& a, const Transmitter& b) {
    return a.at == b.at && a.antenna == b.antenna && a.loss == b.loss;
}
bool are_alike(const Receiver& a, const Receiver& b) {
    return a.at == b.at && a.antenna == b.antenna && a.loss == b.loss && a.flies == b.flies;
}

}  // namespace

std::size_t LinkMemory::number_of(const Transmitter& transmitter) {
    const Hertz reference = band_reference(transmitter.frequency);
    const auto known = std::ranges::find_if(transmitters_, [&](const From& from) {
        return from.reference == reference && are_alike(from.transmitter, transmitter);
    });
    const auto number = static_cast<std::size_t>(known - transmitters_.begin());
    if (known == transmitters_.end())
        transmitters_.push_back({transmitter, reference, std::nullopt, {}, {}});
    return number;
}

std::size_t LinkMemory::number_of(const Receiver& receiver) {
    const auto known = std::ranges::find_if(
        receivers_, [&](const Receiver& other) { return are_alike(other, receiver); });
    const auto number = static_cast<std::size_t>(known - receivers_.begin());
    if (known == receivers_.end()) receivers_.push_back(receiver);
    return number;
}

LinkMemory::Ways& LinkMemory::ways(std::size_t transmitter, std::size_t receiver) {
    auto& to = transmitters_[transmitter].to;
    if (to.size() <= receiver) to.resize(receivers_.size());
    return to[receiver];
}

std::shared_ptr<const WantedGain> LinkMemory::wanted(std::size_t transmitter,
                                                     std::size_t receiver) {
    auto& known = ways(transmitter, receiver).wanted;
    if (!known)
        known = std::make_shared<const WantedGain>(flight_gain(
            transmitters_[transmitter].transmitter, receivers_[receiver], Role::wanted));
    return known;
}

double LinkMemory::unwanted(Geometry geometry, std::size_t transmitter, std::size_t receiver) {
    auto& known = ways(transmitter, receiver);
    auto& value = geometry == Geometry::usual ? known.usual : known.closest;
    if (value >= 0) return value;
    auto& from = transmitters_[transmitter];
    value = geometry == Geometry::usual
                ? usual(from, receivers_[receiver])
                : linear(unwanted_gain(from.transmitter, receivers_[receiver], geometry));
    return value;
}

/// The places of its area are listed once for all receivers.
double LinkMemory::usual(From& from, const Receiver& receiver) {
    const auto* area = std::get_if<Envelope>(&from.transmitter.at);
    if (area == nullptr) return linear(unwanted_gain(from.transmitter, receiver, Geometry::usual));
    if (!from.area) from.area.emplace(places(*area));
    return linear(usual_gain(*from.area, from.transmitter, receiver));
}

double LinkMemory::coupling(std::size_t from, std::size_t into) {
    auto& all = transmitters_[from].into;
    if (all.size() <= into) all.resize(transmitters_.size(), unknown);
    if (all[into] < 0)
        all[into] = linear(
            spectrum::coupling(transmitters_[from].transmitter, transmitters_[into].transmitter));
    return all[into];
}

void LinkMemory::make_room() {
    if (transmitters_.size() <= ends_max && receivers_.size() <= ends_max) return;
    transmitters_.clear();
    receivers_.clear();
}

}  // namespace fieldpeg::spectrum
