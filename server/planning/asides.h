#pragma once

#include "server/planner/search.h"
#include "server/planner/tables.h"
#include "server/planning/plan_scene.h"

#include "fieldpeg/v1/plan.pb.h"

#include <vector>

namespace fieldpeg::planning {

/// Those who do not reach a margin even with nobody else of any flight group on the air, beside
/// what always is: of those planned for, and of those who are on whichever group flies.
std::vector<v1::RotaAside> asides(const PlanScene& scene, const planner::Question& question,
                                  double margin_db, const planner::Effort& effort);

/// The question without conditions for those who are on whichever group flies and aside.
planner::Question asked_of_the_rest(planner::Question question, const PlanScene& scene,
                                    const std::vector<v1::RotaAside>& asides);

}  // namespace fieldpeg::planning
