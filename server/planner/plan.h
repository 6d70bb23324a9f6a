#pragma once

#include "server/planner/search.h"
#include "server/planner/tables.h"
#include "server/spectrum/units.h"
#include "server/spectrum/verdict.h"

#include <cstdint>
#include <optional>
#include <vector>

namespace fieldpeg::planner {

/// A choice for everybody and how good it is.
struct Plan {
    Choice choice;
    /// Of each viewer, as Tables::viewers() has them.
    std::vector<std::optional<spectrum::Standing>> standings;
    spectrum::Decibel worst;  ///< infinite if nobody's margin counts
    spectrum::Decibel bound;  ///< no plan has a better worst margin
    bool proved;              ///< the two meet, within the tolerance
    std::uint64_t nodes;
};

/// What a plan is to heed beside the worst margin.
struct Manners {
    /// Whether the rest is raised too, the worst first, once the worst margin is settled. Whose
    /// margin is the worst stays as it was found.
    bool raise_the_rest = true;
    /// Transmitters whose power is to be the least at which their picture is steady.
    std::vector<bool> least_power = {};
    /// What is held: nobody is moved for nothing. Empty: nobody holds anything.
    Holds holds = {};
    /// The channels that are preferred where that costs the worst margin nothing, as a question
    /// otherwise the same; none: all alike.
    std::optional<Question> preferred = {};
};

/// The plan whose worst margin is highest. None if somebody has nothing to choose from.
std::optional<Plan> best_plan(const Tables& tables, const Effort& effort,
                              const Manners& manners = {});

/// What is known of a choice, with a bound from elsewhere.
Plan plan_of(const Tables& tables, const Outcome& outcome);

/// Raises the margins of all but the worst off, then of all but the two worst off, and so on.
/// Nobody who was passed over falls. Ends with the effort.
Choice raise_the_rest(const Tables& tables, Choice choice, const Effort& effort);

/// Margins that fall by less than this are not missed by whoever may stay for it.
inline constexpr spectrum::Decibel stay_for{0.1};

/// Puts back to what they hold those for whom that costs nobody more than `stay_for`, and the worst
/// margin nothing.
Choice settle_back(const Tables& tables, Choice choice, const Holds& holds);

/// A choice that reaches a worst margin by what is preferred alone; none if there is none, or none
/// is found with the effort.
std::optional<Choice> preferred_choice(const Tables& tables, const Question& preferred,
                                       double worst_db, const Effort& effort);

/// The question, with those in `Question::may_pay` who have no good flight even alone and cannot
/// all be spared: one after the other is, where that is found to be possible. The question itself
/// if all can be.
Question with_fewest_who_pay(Question question, const Effort& effort);

/// Lowers the power of those who ask for it as far as their picture stays steady and they stay
/// above the worst margin. Nobody else is the worse for it.
Choice lower_powers(const Tables& tables, Choice choice, const std::vector<bool>& asked);

}  // namespace fieldpeg::planner
