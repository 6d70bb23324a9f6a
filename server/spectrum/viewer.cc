#include "server/spectrum/viewer.h"

#include <algorithm>
#include <optional>

namespace fieldpeg::spectrum {
namespace {

/// The hops of one owner into one relay, or into what is looked at.
std::vector<Hop> hops_into(const Scene& scene, std::size_t owner,
                           std::optional<std::size_t> feeds) {
    std::vector<Hop> found;
    for (std::size_t v = 0; v < scene.receivers.size(); ++v) {
        const auto& receiver = scene.receivers[v];
        if (receiver.owner != owner || receiver.feeds != feeds || !receiver.hears) continue;
        auto hop = std::ranges::find(found, *receiver.hears, &Hop::transmitter);
        if (hop == found.end()) hop = found.insert(found.end(), {*receiver.hears, {}});
        hop->receivers.push_back(v);
    }
    return found;
}

std::vector<Way> ways_ending_in(const Scene& scene, std::size_t owner, const Hop& last) {
    const bool is_fed = std::ranges::any_of(
        scene.receivers, [&](const Receiver& r) { return r.feeds == last.transmitter; });
    if (!is_fed) return {Way{{last}}};
    std::vector<Way> ways;
    for (const auto& first : hops_into(scene, owner, last.transmitter))
        ways.push_back(Way{{first, last}});
    return ways;
}

}  // namespace

std::vector<Hop> hops(const Scene& scene) {
    std::vector<Hop> all;
    for (std::size_t v = 0; v < scene.receivers.size(); ++v) {
        const auto& receiver = scene.receivers[v];
        if (!receiver.hears) continue;
        const auto is_of_one = [&](const Hop& hop) {
            const auto& other = scene.receivers[hop.receivers.front()];
            return hop.transmitter == *receiver.hears && other.owner == receiver.owner &&
                   other.feeds == receiver.feeds;
        };
        auto hop = std::ranges::find_if(all, is_of_one);
        if (hop == all.end()) hop = all.insert(all.end(), {*receiver.hears, {}});
        hop->receivers.push_back(v);
    }
    return all;
}

std::vector<Viewer> viewers(const Scene& scene) {
    std::vector<Viewer> all;
    for (const auto& receiver : scene.receivers) {
        if (receiver.feeds || std::ranges::find(all, receiver.owner, &Viewer::owner) != all.end())
            continue;
        Viewer viewer{receiver.owner, {}};
        for (const auto& last : hops_into(scene, receiver.owner, std::nullopt))
            for (auto& way : ways_ending_in(scene, receiver.owner, last))
                viewer.ways.push_back(std::move(way));
        if (!viewer.ways.empty()) all.push_back(std::move(viewer));
    }
    return all;
}

}  // namespace fieldpeg::spectrum
