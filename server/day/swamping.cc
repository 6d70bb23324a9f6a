#include "server/day/swamping.h"

#include "server/spectrum/swamp_range.h"

namespace fieldpeg::day {

std::optional<Swamping> swamping(const Situation& situation, std::size_t transmitter,
                                 const std::string& owner) {
    std::optional<Swamping> widest;
    spectrum::Metres beyond(0.3);
    for (std::size_t v = 0; v < situation.receivers.size(); ++v) {
        const auto& of = situation.receivers[v];
        if (of.owner == owner) continue;
        const auto& receiver = situation.scene.receivers[v];
        const auto range =
            spectrum::swamp_range(situation.scene.transmitters[transmitter], receiver,
                                  situation.scene.profiles[receiver.profile], beyond);
        if (!range) continue;
        beyond = *range;
        widest = Swamping{*range, of.owner, of.name};
    }
    return widest;
}

}  // namespace fieldpeg::day
