#pragma once

#include "server/spectrum/link_memory.h"
#include "server/spectrum/rejection_table.h"

namespace fieldpeg::day {

/// What was worked out of a day and may serve again: gains between places, and what receivers leave
/// of emissions. A plain value that whoever decides one command after another owns and passes in.
/// What is taken from it was worked out from the same by value, so that with it and without every
/// answer is the same.
struct Memory {
    spectrum::LinkMemory links;
    spectrum::RejectionMemory rejections;
};

}  // namespace fieldpeg::day
