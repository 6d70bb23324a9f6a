#pragma once

#include "server/planner/interference.h"
#include "server/planner/problem.h"

#include <cstddef>
#include <cstdint>
#include <vector>

namespace fieldpeg::planner {

/// What every station may yet take at one depth of the search: a word for each group, power and
/// band.
using Words = std::vector<std::uint64_t>;

/// Where in `Words` things are, and how they shrink.
class Domains {
public:
    explicit Domains(const Problem& problem);

    Words all() const;
    std::size_t slot(std::size_t station, const Pick& pick) const {
        return first_[station] +
               (pick.group * problem_.stations[station].powers.size() + pick.power) *
                   problem_.bands.size() +
               pick.band;
    }
    /// Calls visit(pick, word) for every word that is not empty; channel is left open.
    template <class Visit>
    void for_each(const Words& words, std::size_t station, Visit visit) const;

    /// Takes away what a station just put leaves no room for; false if somebody has nothing left.
    bool narrow(Words& words, const Interference& interference, std::size_t put) const;
    /// The same for everybody in every group.
    bool narrow(Words& words, const Interference& interference) const;
    /// Nobody who is like the station takes the pick, nor its like in a group nobody is in yet.
    /// False if one of them has nothing left.
    bool forbid(Words& words, const Interference& interference, std::size_t station,
                const Pick& pick, std::size_t groups_in_use) const;
    /// How many picks are left, groups nobody is in yet counting once.
    std::size_t left(const Words& words, std::size_t station, std::size_t groups_in_use) const;

    /// Whether one group is as good as the other.
    bool groups_alike() const { return groups_alike_; }

private:
    void keep_to_group(Words& words, std::size_t station, std::size_t group, bool inside) const;
    void keep_to(Words& words, std::size_t station, const Pick& pick) const;
    bool fit_group(Words& words, const Interference& interference, std::size_t station,
                   std::size_t group) const;

    const Problem& problem_;
    bool groups_alike_;
    std::vector<std::size_t> first_;
};

template <class Visit>
void Domains::for_each(const Words& words, std::size_t station, Visit visit) const {
    Pick pick;
    std::size_t at = first_[station];
    for (pick.group = 0; pick.group < problem_.groups; ++pick.group)
        for (pick.power = 0; pick.power < problem_.stations[station].powers.size(); ++pick.power)
            for (pick.band = 0; pick.band < problem_.bands.size(); ++pick.band, ++at)
                if (words[at] != 0) visit(pick, words[at]);
}

}  // namespace fieldpeg::planner
