#pragma once

#include "server/log/day_log.h"
#include "server/log/pseudonyms.h"

#include "fieldpeg/v1/event.pb.h"

#include <cstdint>
#include <functional>
#include <optional>
#include <string>

namespace fieldpeg::service {

/// An event as the log stores it: names left out, and the columns that can be asked for with SQL.
/// `before` is the state it was decided on.
log::Entry entry(const v1::Event& event, const v1::DayState& before, const log::Names& names);

/// The same without the record.
log::Entry columns(const v1::Event& event, const v1::DayState& before);

/// What stands in a log beside its records and is not what they say: the chain of hashes covers
/// the records alone.
class Beside {
public:
    void take(const log::Entry& stored, const log::Entry& right);
    /// The first such entry, and how many there are; empty: none.
    std::string text() const;

private:
    std::string first_;
    std::uint64_t entries_ = 0;
};

/// The event back; none: the record is no event.
std::optional<v1::Event> event(const log::Entry& entry, const log::Names& names);

/// Each entry of a log with its event, in order, until told to end. One that is no event is refused
/// with its number, as is what the log refuses.
using Take = std::function<bool(const log::Entry&, const v1::Event&)>;
Result<void> each_event(const log::DayLog& log, const log::Names& names, std::uint64_t up_to,
                        const Take& take);

/// The same, each taken into `state` once it was told of as it was before. One that does not fit
/// what came before it is refused with its number.
Result<void> fold_events(const log::DayLog& log, const log::Names& names, v1::DayState& state,
                         const Take& before);

/// The names that an event brings.
log::Names new_names(const v1::Event& event);

}  // namespace fieldpeg::service
