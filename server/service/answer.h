#pragma once

#include "server/day/memory.h"

#include "fieldpeg/v1/day.pb.h"
#include "fieldpeg/v1/event.pb.h"
#include "fieldpeg/v1/query.pb.h"

namespace fieldpeg::service {

/// Most contributions that a question may ask for.
inline constexpr std::size_t contributions_max = 1000;
/// Most channels in a set whose products are asked for.
inline constexpr int channel_set_max = 40;
/// Most products that an answer lists, the nearest first.
inline constexpr int hits_max = 200;

/// Answers a question that changes nothing. `sheet` is the day asked about; without one the
/// questions that need a day are refused. Never throws for what was asked.
v1::Answer answer(const v1::Query& query, const v1::DaySheet* sheet);

/// What somebody could switch on, as a day stands.
v1::Answer free_answer(v1::FreeQuery query, const v1::DayState& state, day::Memory& memory);

}  // namespace fieldpeg::service
