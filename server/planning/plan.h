#pragma once

#include "fieldpeg/v1/day.pb.h"
#include "fieldpeg/v1/plan.pb.h"
#include "fieldpeg/v1/query.pb.h"

#include <chrono>
#include <functional>

namespace fieldpeg::planning {

/// The time a plan may take where nobody says, and at most.
inline constexpr double plan_seconds = 10;
inline constexpr double plan_seconds_max = 300;
/// Who waits for work is told of it this often.
inline constexpr std::chrono::milliseconds progress_every{250};

/// What connects long work with whoever waits for it.
struct Work {
    /// Told now and then while it goes on. False: enough, answer with what there is.
    std::function<bool(const v1::Progress&)> progress = [](const v1::Progress&) { return true; };
};

/// Whether a question is one for the planner, and so takes long.
bool takes_long(const v1::Query& query);

/// Answers such a question about a day. Ends with its time, or when there is enough; the answer
/// then says what is not proved.
v1::Answer plan(const v1::Query& query, const v1::DaySheet& sheet, const Work& work);

}  // namespace fieldpeg::planning
