#pragma once

#include "server/log/day_log.h"
#include "server/log/pseudonyms.h"

#include "fieldpeg/v1/event.pb.h"

#include <optional>

namespace fieldpeg::service {

/// An event as the log stores it: names left out, and the columns that can be asked for with SQL.
/// `before` is the state it was decided on.
log::Entry entry(const v1::Event& event, const v1::DayState& before, const log::Names& names);

/// The event back; none: the record is no event.
std::optional<v1::Event> event(const log::Entry& entry, const log::Names& names);

/// The names that an event brings.
log::Names new_names(const v1::Event& event);

}  // namespace fieldpeg::service
