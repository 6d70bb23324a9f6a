#pragma once

#include "client/show/look.h"

#include "fieldpeg/v1/plan.pb.h"

#include <string>

/// Plans as text for people.
namespace fieldpeg::show {

std::string plan_text(const v1::PlanReply& reply, const Look& look);
std::string rota_text(const v1::RotaReply& reply, const Look& look);
std::string room_text(const v1::RoomReply& reply, const Look& look);
/// A line for each share, under the columns' names.
std::string rota_csv(const v1::RotaReply& reply);
/// How far work is, in one line of at most `width` columns.
std::string progress_text(const v1::Progress& so_far, std::size_t width);

}  // namespace fieldpeg::show
