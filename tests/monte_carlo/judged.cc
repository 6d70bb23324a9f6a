#include "tests/monte_carlo/judged.h"

#include "server/spectrum/link.h"
#include "server/spectrum/margin.h"

#include <optional>
#include <utility>
#include <variant>

namespace fieldpeg::testing {

using spectrum::Verdict;

namespace {

Sort sort_of_receiver(const spectrum::Scene& scene, const spectrum::Receiver& receiver) {
    if (std::holds_alternative<spectrum::Point>(scene.transmitters[*receiver.hears].at))
        return Sort::relayed;
    return receiver.antenna.turns ? Sort::turning : Sort::receiver;
}

/// None of one who has a single receiver.
std::optional<Sort> sort_of(const spectrum::Viewer& viewer) {
    const auto& hops = viewer.ways.front().hops;
    if (viewer.ways.size() > 1) return Sort::two_ways;
    if (hops.size() > 1) return Sort::chain;
    if (hops.front().receivers.size() > 1) return Sort::diversity;
    return std::nullopt;
}

}  // namespace

bool is_single(const Judged& judged) {
    return judged.sort <= Sort::relayed;
}
bool is_passed(Verdict word) {
    return word == Verdict::steady || word == Verdict::tight;
}
bool is_wrongly_passed(const Judged& judged) {
    return is_passed(judged.word) && !is_good(judged.flown);
}
bool is_wrongly_refused(const Judged& judged) {
    return !is_passed(judged.word) && is_good(judged.flown);
}
bool is_awful_passed(const Judged& judged) {
    return is_passed(judged.word) && is_awful(judged.flown);
}

std::vector<Judged> judge(const spectrum::Scene& scene, std::mt19937_64& rng,
                          const Moments& moments) {
    std::vector<spectrum::Viewer> who;
    std::vector<Sort> kinds;
    for (std::size_t v = 0; v < scene.receivers.size(); ++v) {
        who.push_back(alone(scene, v));
        kinds.push_back(sort_of_receiver(scene, scene.receivers[v]));
    }
    for (auto& viewer : spectrum::viewers(scene)) {
        const auto sort = sort_of(viewer);
        if (!sort) continue;
        who.push_back(std::move(viewer));
        kinds.push_back(*sort);
    }
    const spectrum::LinkTable links(scene);
    spectrum::RejectionTables tables(scene);
    const auto receptions = assess(scene, links, tables);
    const auto flights = fly(scene, who, rng, moments);
    std::vector<Judged> all;
    for (std::size_t i = 0; i < who.size(); ++i) {
        const auto standing = spectrum::standing(receptions, who[i]);
        const double share =
            spectrum::share(receptions, who[i], spectrum::Demand::watchable, spectrum::Air::usual);
        all.push_back({who[i], kinds[i], standing, verdict(standing), share, flights[i]});
    }
    return all;
}

std::mt19937_64 generator(std::uint64_t seed, FieldKind kind, int field) {
    std::seed_seq sequence{static_cast<std::uint32_t>(seed), static_cast<std::uint32_t>(kind),
                           static_cast<std::uint32_t>(field)};
    return std::mt19937_64(sequence);
}

}  // namespace fieldpeg::testing
