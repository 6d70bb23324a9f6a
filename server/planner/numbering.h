#pragma once

#include "server/planner/rota.h"

#include <cstddef>
#include <cstdint>
#include <vector>

/// Which numbers the groups of a new rota have. Used by rota.cc.
namespace fieldpeg::planner {

/// [group]
using Numbers = std::vector<std::uint32_t>;

/// The ways in which groups may keep numbers of the rota before: all of these if there are as many
/// groups as that had, else each selection, that with the most of its people first.
struct Numberings {
    std::vector<Numbers> all;
    bool complete = true;  ///< false: there are more than are looked at
};
Numberings numberings(const Problem& problem, const RotaTerms& terms);

/// What everybody holds, if groups have these numbers.
std::vector<Kept> kept(const Tables& tables, const RotaTerms& terms, const Numbers& numbers);

/// Changes that nobody is spared: what is held is not there any more.
std::size_t sure_changes(const std::vector<Kept>& kept);

/// Has those fly in their group who stay in it.
void keep_in_groups(Problem& problem, const RotaTerms& terms, const Numbers& numbers);

/// A choice with its groups in another order: with the numbers of one of the ways, so that few
/// change.
struct Numbered {
    Numbers numbers;
    Choice choice;
};
Numbered numbered_alike(const Tables& tables, const RotaTerms& terms, const Numberings& ways,
                        const Choice& choice);

}  // namespace fieldpeg::planner
