// Whatever stands in a log as a record. Either it is refused, or it is part of the day, which can
// be told, looked at and gone on with.

#include "server/day/apply.h"
#include "server/day/check.h"
#include "server/day/sentences.h"
#include "server/log/day_log.h"
#include "server/service/record.h"
#include "tests/fuzz/lively_day.h"
#include "tests/fuzz/mutated.h"

#include <cstdint>
#include <string>

namespace fieldpeg {
namespace {

const std::vector<v1::Event>& known() {
    static const auto all = [] {
        std::vector<v1::Event> events;
        auto& day = fuzz::lively_day();
        const auto log = log::DayLog::open(day.files().log, log::DayLog::Access::read).value();
        const auto names = log->names().value();
        log->each(0, UINT64_MAX, [&](const log::Entry& e) {
            events.push_back(service::event(e, names).value());
            return true;
        });
        for (const auto& command : fuzz::commands()) {
            service::Ask ask;
            ask.command = command;
            for (auto& event : day.keeper().prepare({&ask, 1}, day.now_ms() + 1000).events)
                events.push_back(std::move(event));
        }
        return events;
    }();
    return all;
}

void take(log::Entry entry) {
    static const log::Names names = {{1, "Ann"}, {2, "Bob"}};
    auto event = service::event(entry, names);
    if (!event) return;
    auto day = fuzz::lively_day().keeper().state();
    event->set_version(day.version() + 1);
    if (!day::fits(day, *event)) return;
    service::entry(*event, day, names);
    day::sentence(*event, day);
    day::apply(day, *event);
    day::call_outs(*event, day);
}

}  // namespace
}  // namespace fieldpeg

extern "C" int LLVMFuzzerTestOneInput(const std::uint8_t* data, std::size_t size) {
    fieldpeg::log::Entry entry;
    entry.record.assign(reinterpret_cast<const char*>(data), size);
    fieldpeg::take(std::move(entry));
    return 0;
}

extern "C" std::size_t LLVMFuzzerCustomMutator(std::uint8_t* data, std::size_t size,
                                               std::size_t most, unsigned seed) {
    fieldpeg::v1::Event event;
    const auto& known = fieldpeg::known();
    if (size < 2 || !event.ParseFromArray(data, static_cast<int>(size)))
        event = known[seed / 8 % known.size()];
    return fieldpeg::fuzz::mutated(event, data, size, most, seed);
}
