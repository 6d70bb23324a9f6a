#pragma once

#include "client/show/look.h"

#include "fieldpeg/v1/assessment.pb.h"

#include <string>

/// What a change costs others.
namespace fieldpeg::show {

using Harms = google::protobuf::RepeatedPtrField<v1::Harm>;

/// Pilots whose picture it costs, a line each under a head.
std::string harms_text(const Harms& harms, const Look& look);

/// Links it costs that their pilots do not need, under a heading; empty if there are none.
std::string links_lost_text(const Harms& links, const Look& look);

}  // namespace fieldpeg::show
