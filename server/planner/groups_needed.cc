#include "server/planner/rota.h"

#include "server/planner/packing.h"

#include <algorithm>
#include <cmath>
#include <utility>

/// How many groups any rota needs.
namespace fieldpeg::planner {
namespace {

/// Whether two stations find channels far enough apart.
bool can_meet(const Problem& problem, const Spacings& spacings, std::size_t a, std::size_t b) {
    const auto pair = std::minmax(a, b);
    for (const auto& [x, y] : problem.apart)
        if (std::minmax(x, y) == pair) return false;
    const std::int64_t least = spacings.between(a, b);
    if (least == Spacings::never) return false;
    const auto& s = problem.stations[a].channels;
    const auto& t = problem.stations[b].channels;
    for (std::size_t i = 0; i < problem.bands.size(); ++i)
        for (std::size_t c = 0; c < problem.bands[i].size(); ++c)
            for (std::size_t j = 0; j < problem.bands.size() && (s[i] >> c & 1) != 0; ++j)
                for (std::size_t d = 0; d < problem.bands[j].size(); ++d)
                    if ((t[j] >> d & 1) != 0 &&
                        std::abs(problem.bands[i][c] - problem.bands[j][d]) >= least)
                        return true;
    return false;
}

/// How many stations of a row find room in one group, if they must keep `least` steps apart.
std::size_t places(const Problem& problem, const std::vector<std::size_t>& row,
                   std::int64_t least) {
    std::size_t count = 0;
    for (std::size_t band = 0; band < problem.bands.size(); ++band) {
        std::int64_t next = INT64_MIN;
        for (std::size_t c = 0; c < problem.bands[band].size(); ++c) {
            const auto open = [&](std::size_t s) {
                return (problem.stations[s].channels[band] >> c & 1) != 0;
            };
            const std::int64_t step = problem.bands[band][c];
            if (step < next || std::ranges::none_of(row, open)) continue;
            ++count;
            next = step + least;
        }
    }
    return count;
}

/// A set of stations pairwise related, grown greedily from each station in turn; the largest.
template <class Related>
std::vector<std::size_t> related_set(std::size_t stations, Related related) {
    std::vector<std::size_t> largest;
    for (std::size_t first = 0; first < stations; ++first) {
        std::vector<std::size_t> set{first};
        for (std::size_t s = 0; s < stations; ++s)
            if (std::ranges::all_of(set, [&](std::size_t t) { return t != s && related(s, t); }))
                set.push_back(s);
        if (set.size() > largest.size()) largest = std::move(set);
    }
    return largest;
}

std::size_t by_rows(const Problem& problem, const Spacings& spacings) {
    std::vector<std::int64_t> distances;
    for (std::size_t a = 0; a < problem.stations.size(); ++a)
        for (std::size_t b = a + 1; b < problem.stations.size(); ++b)
            if (spacings.between(a, b) > 0 && spacings.between(a, b) != Spacings::never)
                distances.push_back(spacings.between(a, b));
    std::ranges::sort(distances);
    std::size_t most = 1;
    for (const std::size_t part :
         {std::size_t{0}, std::size_t{2}, std::size_t{4}, std::size_t{8}}) {
        if (distances.empty()) break;
        const std::int64_t least = distances[part * (distances.size() - 1) / 8];
        const auto row = related_set(problem.stations.size(), [&](std::size_t s, std::size_t t) {
            return spacings.between(s, t) >= least;
        });
        const std::size_t room = std::max<std::size_t>(1, places(problem, row, least));
        most = std::max(most, (row.size() + room - 1) / room);
    }
    return most;
}

}  // namespace

std::size_t groups_needed(const Problem& problem, double target_db) {
    const Spacings spacings(problem, target_db);
    const auto strangers = related_set(problem.stations.size(), [&](std::size_t s, std::size_t t) {
        return !can_meet(problem, spacings, s, t);
    });
    return std::max({std::size_t{1}, strangers.size(), by_rows(problem, spacings)});
}

}  // namespace fieldpeg::planner
