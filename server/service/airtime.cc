#include "server/day/airtime.h"
#include "server/book/names.h"
#include "server/day/apply.h"
#include "server/day/words.h"
#include "server/service/keeper.h"

#include <algorithm>
#include <string>

namespace fieldpeg::service {
namespace {

bool is_asked_for(const v1::Flight& flight, const v1::AirtimeQuery& query) {
    if (flight.from_ms() < query.from_ms()) return false;
    if (query.to_ms() != 0 && flight.from_ms() > query.to_ms()) return false;
    if (query.pilot().empty()) return true;
    const auto key = book::name_key(query.pilot());
    return key == book::name_key(flight.pilot()) || key == book::name_key(flight.relay());
}

}  // namespace

/// Up to the moment that is asked about, which is `at_ms`.
v1::Answer Keeper::airtime_answer(const v1::AirtimeQuery& query, const v1::DayState& then,
                                  std::int64_t at_ms) const {
    v1::Answer answer;
    day::Airtime course;
    v1::DayState state;
    const auto read = each(then.version(), [&](const log::Entry&, const v1::Event& event) {
        day::apply(state, event);
        course.take(state);
        return true;
    });
    if (!read) {
        *answer.mutable_refusal() = day::message(read.error());
        return answer;
    }
    auto flights = course.flights(query.until_ms() != 0 ? query.until_ms() : at_ms);
    std::erase_if(flights, [&](const v1::Flight& f) { return !is_asked_for(f, query); });
    *answer.mutable_airtime() = day::airtime(std::move(flights));
    return answer;
}

}  // namespace fieldpeg::service
