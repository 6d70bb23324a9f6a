#include "server/service/near.h"

#include "server/day/apply.h"
#include "server/day/board.h"
#include "server/day/check.h"
#include "server/day/state.h"
#include "server/day/words.h"
#include "server/service/answer.h"

#include <algorithm>
#include <cmath>
#include <optional>
#include <set>
#include <utility>

namespace fieldpeg::service {
namespace {

/// Which receiver of whom.
std::string key(const v1::ReceiverResult& r) {
    return r.owner() + '\n' + r.relay() + '\n' + r.receiver();
}

std::vector<v1::ReceiverResult> tuned_near(const v1::DaySheet& sheet, double mhz, double within_mhz,
                                           std::size_t contributions) {
    const auto all = day::check(sheet, v1::Basis::on_air, contributions);
    std::vector<v1::ReceiverResult> near;
    for (const auto& r : all.receivers())
        if (r.has_channel_mhz() && r.has_margin_ref_db() &&
            std::abs(r.channel_mhz() - mhz) <= within_mhz)
            near.push_back(r);
    std::ranges::stable_sort(near, {}, [](const auto& r) { return r.margin_ref_db(); });
    return near;
}

bool is_same(const v1::ReceiverResult& a, const v1::ReceiverResult& b) {
    return a.SerializeAsString() == b.SerializeAsString();
}

void add_receivers(const std::vector<v1::ReceiverResult>& then,
                   const std::vector<v1::ReceiverResult>& now, v1::NearReply& reply) {
    std::set<std::string> told;
    for (const auto& r : then) {
        auto& m = *reply.add_receivers();
        *m.mutable_then() = r;
        told.insert(key(r));
        const auto other = std::ranges::find(now, key(r), key);
        if (other != now.end() && !is_same(r, *other)) *m.mutable_now() = *other;
    }
    for (const auto& r : now)
        if (!told.contains(key(r))) *reply.add_receivers()->mutable_now() = r;
}

void add_radiating(const v1::DayState& then, const v1::DayState& now, v1::NearReply& reply) {
    std::set<std::string> known;
    const auto before = day::board(then), after = day::board(now);
    for (const auto& row : before.rows())
        if (day::radiates(row.stage())) known.insert(row.transmitter());
    for (const auto& row : after.rows()) {
        if (!day::radiates(row.stage())) continue;
        auto& m = *reply.add_radiating();
        m.set_transmitter(row.transmitter());
        m.set_owner(row.owner());
        *m.mutable_channel() = row.channel();
        m.set_power_dbm(row.power_dbm());
        m.set_stage(row.stage());
        m.set_unasked(row.unasked());
        m.set_since_ms(row.since_ms());
        m.set_offset_mhz(day::milli(row.channel().mhz() - reply.mhz()));
        m.set_known_later(!known.contains(row.transmitter()));
    }
    std::ranges::stable_sort(*reply.mutable_radiating(), {},
                             [](const auto& m) { return std::abs(m.offset_mhz()); });
}

}  // namespace

Hindsight::Hindsight(v1::DayState then, std::int64_t at_ms)
    : then_(std::move(then)), now_(then_), at_ms_(at_ms) {}

void Hindsight::take(const v1::Event& event, std::string_view sentence) {
    if (!changes(event)) return;
    put(event);
    auto& fact = later_.emplace_back();
    fact.set_version(event.version());
    fact.set_at_ms(event.at_ms());
    fact.set_text(std::string(sentence));
}

/// Whether an event says something of the moment before it.
bool Hindsight::changes(const v1::Event& event) {
    if (event.has_parts_put()) return true;
    if (event.at_ms() - at_ms_ > found_out_ms) return false;
    if (event.has_seen()) return true;
    const bool found = (event.has_claimed() && event.claimed().claim().unasked()) ||
                       (event.has_stage_set() && event.stage_set().unasked());
    if (!found) return false;
    const auto subject =
        event.has_claimed() ? event.claimed().subject() : event.stage_set().subject();
    const auto held = day::holder(then_.sheet(), subject);
    return held && !held->radiates();
}

/// What was declared later is believed, whose channel was whose is not changed by it.
void Hindsight::put(const v1::Event& event) {
    v1::Event declared = event;
    declared.set_version(now_.version() + 1);  // of those between some are left out
    if (!declared.has_parts_put()) return day::apply(now_, declared);
    auto& parts = *declared.mutable_parts_put();
    day::for_each_holder(parts, [&](auto& one) {
        one.clear_claim();
        const auto held = day::holder(now_.sheet(), one.id());
        if (held && held->claim) *one.mutable_claim() = *held->claim;
    });
    day::apply(now_, declared);
}

v1::NearReply near(const v1::NearQuery& query, const Hindsight& moment) {
    v1::NearReply reply;
    reply.set_mhz(query.mhz());
    reply.set_within_mhz(query.within_mhz() > 0 ? query.within_mhz() : neighbourhood_mhz);
    reply.set_version(moment.then().version());
    reply.set_at_ms(moment.at_ms());
    add_radiating(moment.then(), moment.now(), reply);
    const auto most = std::min<std::size_t>(query.contributions(), contributions_max);
    const auto results = [&](const v1::DayState& state) {
        return tuned_near(state.sheet(), reply.mhz(), reply.within_mhz(), most);
    };
    add_receivers(results(moment.then()), results(moment.now()), reply);
    for (const auto& fact : moment.later()) *reply.add_later() = fact;
    reply.add_cautions(
        "These are estimates from declared gear and places: who could have, not who did.");
    return reply;
}

}  // namespace fieldpeg::service
