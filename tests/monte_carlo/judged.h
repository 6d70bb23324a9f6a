#pragma once

#include "server/spectrum/scene.h"
#include "server/spectrum/standing.h"
#include "server/spectrum/verdict.h"
#include "server/spectrum/viewer.h"
#include "tests/monte_carlo/fields.h"
#include "tests/monte_carlo/simulation.h"

#include <cstdint>
#include <random>
#include <vector>

/// What the program says beside what was flown.
namespace fieldpeg::testing {

/// What has to be right for a word to be.
enum class Sort {
    receiver,   ///< one receiver that hears an aircraft, whatever else its owner has
    turning,    ///< the same with a directional antenna on a head
    relayed,    ///< one receiver that hears a relay
    diversity,  ///< several receivers for one picture
    chain,      ///< a relay's two hops
    two_ways,   ///< a relay, and the aircraft's own video beside it
};
inline constexpr Sort sorts[] = {Sort::receiver,  Sort::turning, Sort::relayed,
                                 Sort::diversity, Sort::chain,   Sort::two_ways};

struct Judged {
    spectrum::Viewer who;
    Sort sort;
    spectrum::Standing standing;
    spectrum::Verdict word;
    double share;  ///< of the flight with a picture, as the program says
    Flight flown;
};

/// Whether it is one receiver rather than somebody's several.
bool is_single(const Judged& judged);
bool is_passed(spectrum::Verdict word);
bool is_wrongly_passed(const Judged& judged);
bool is_wrongly_refused(const Judged& judged);
bool is_awful_passed(const Judged& judged);

/// Every receiver by itself (all must hear something), then everybody who has more than one.
std::vector<Judged> judge(const spectrum::Scene& scene, std::mt19937_64& rng,
                          const Moments& moments);

/// The generator of one field, so that it can be played again alone.
std::mt19937_64 generator(std::uint64_t seed, FieldKind kind, int field);

}  // namespace fieldpeg::testing
