#include "tests/simulation/promises.h"

#include "server/day/apply.h"
#include "server/day/check.h"
#include "server/day/state.h"

#include <fmt/format.h>

#include <algorithm>
#include <map>
#include <set>
#include <vector>

namespace fieldpeg::simulation {
namespace {

std::map<std::string, double> radiating(const v1::DayState& state) {
    std::map<std::string, double> all;
    day::for_each_holder(state.sheet(), [&](const auto& one) {
        if (one.has_claim() && day::radiates(one.claim().stage()))
            all[one.name()] = one.claim().channel().mhz();
    });
    for (const auto& s : state.sheet().sightings())
        all[fmt::format("sighting {}", s.id())] = s.channel().mhz();
    return all;
}

/// Nobody speaks for the server: what it says by itself takes nothing off the air.
std::string dropped(const v1::Event& event, const v1::DayState& before) {
    if (event.actor() != 0) return "";
    auto after = before;
    day::apply(after, event);
    const auto is = radiating(after);
    for (const auto& [name, mhz] : radiating(before)) {
        const auto still = is.find(name);
        if (still == is.end() || still->second != mhz)
            return fmt::format("the server took {} off the air by itself", name);
    }
    return "";
}

bool sees_by_itself(const v1::Pilot& pilot) {
    return std::ranges::all_of(pilot.receivers(),
                               [](const auto& receiver) { return receiver.hears() == "video"; });
}

/// The one whose aircraft `holds` says, and who sees it with their own goggles; null: there is
/// none, or some share it already.
template <class Holds>
const v1::Pilot* the_one(const v1::DaySheet& sheet, std::uint32_t but, Holds holds) {
    std::set<std::uint32_t> owners;
    day::for_each_holder(sheet, [&](const auto& one) {
        const auto held = day::holder(sheet, one.id());
        if (one.has_claim() && held->owner != but && holds(one.claim())) owners.insert(held->owner);
    });
    const auto* pilot = owners.size() == 1 ? day::pilot(sheet, *owners.begin()) : nullptr;
    return pilot && sees_by_itself(*pilot) ? pilot : nullptr;
}

/// All fly one circuit from one line: of two on one frequency each is the other's clash (two
/// carriers on one channel: common practice, no published source). Who shares one already by the
/// marshal's leave, or as a fact, is not harmed more by a third.
std::string shared_on_air(const v1::Event& event, const v1::DayState& before) {
    const auto& set = event.stage_set();
    const bool is_yes = event.has_stage_set() && event.actor() != 0 && !set.unasked() &&
                        set.allowed_because().empty() && day::is_in_the_air(set.stage());
    if (!is_yes) return "";
    const auto held = day::holder(before.sheet(), set.subject());
    if (!held || !held->claim || held->radiates()) return "";
    const auto* other = the_one(before.sheet(), held->owner, [&](const v1::Claim& claim) {
        return day::is_in_the_air(claim.stage()) &&
               claim.channel().mhz() == held->claim->channel().mhz();
    });
    if (!other) return "";
    return fmt::format("{} was let on the air where {} is", held->name, other->name());
}

/// Whom others trouble already, by that channel or another, is not harmed more by one on theirs.
bool has_a_good_picture(const v1::DaySheet& sheet, v1::Basis::Kind basis,
                        const std::string& pilot) {
    const auto all = day::check(sheet, basis, 0).pilots();
    return std::ranges::all_of(all, [&](const v1::PilotResult& one) {
        return one.pilot() != pilot || one.verdict() == v1::Verdict::steady ||
               one.verdict() == v1::Verdict::tight;
    });
}

std::string shared_as_held(const v1::Event& event, const v1::DayState& before,
                           const v1::DayState& settled) {
    if (!event.has_claimed() || event.actor() == 0) return "";
    const auto& claim = event.claimed().claim();
    const auto held = day::holder(before.sheet(), event.claimed().subject());
    if (!held || claim.unasked() || !claim.allowed_because().empty() || held->radiates() ||
        day::radiates(claim.stage()))
        return "";
    if (held->claim && held->claim->channel().mhz() == claim.channel().mhz()) return "";
    const auto holds_it_too = [&](const v1::Claim& other) {
        const bool fly_together =
            other.group() == claim.group() || other.group() == 0 || claim.group() == 0;
        // On the bench, or down, they have no picture that could be lost by it.
        const bool sees = other.stage() != v1::Claim::bench && other.stage() != v1::Claim::down;
        return sees && fly_together && other.channel().mhz() == claim.channel().mhz();
    };
    const auto* was = the_one(before.sheet(), held->owner, holds_it_too);
    const auto* is = the_one(settled.sheet(), held->owner, holds_it_too);
    const auto now = day::holder(settled.sheet(), held->id);
    const bool has_it = now && now->claim && now->claim->channel().mhz() == claim.channel().mhz();
    if (!was || !is || !has_it || was->id() != is->id() ||
        !has_a_good_picture(before.sheet(), v1::Basis::held, was->name()))
        return "";
    return fmt::format("{} was given a channel that {} holds ({})", held->name, is->name(),
                       is->claim().ShortDebugString());
}

std::string untrue_of(const v1::SwitchReply& reply, const Air& air) {
    const auto found = air.transmitters.find(reply.transmitter());
    const auto is = found == air.transmitters.end() ? Air::One() : found->second;
    const bool is_on = day::radiates(is.stage);
    switch (reply.answer()) {
        case v1::SwitchReply::switch_on:
        case v1::SwitchReply::confirmed:
            return is_on && is.mhz == reply.channel().mhz() ? "" : "it may be on";
        case v1::SwitchReply::noted:
            return is.stage == reply.stage() && is.mhz == reply.channel().mhz() ? ""
                                                                                : "it is noted";
        case v1::SwitchReply::switched_off:
            return is.stage == reply.stage() ? "" : "it is off";
        case v1::SwitchReply::taken_back:
            return is_on ? "it is taken back" : "";
        default:
            return "";
    }
}

}  // namespace

Air air_of(const v1::DayState& state) {
    Air air;
    day::for_each_holder(state.sheet(), [&](const auto& one) {
        if (one.has_claim())
            air.transmitters[one.name()] = {one.claim().channel().mhz(), one.claim().stage()};
    });
    for (const auto& s : state.sheet().sightings()) air.sightings.insert(s.id());
    return air;
}

std::string broken_by(const v1::Event& event, const v1::DayState& before,
                      const v1::DayState& settled) {
    for (const auto& wrong : {dropped(event, before), shared_on_air(event, before),
                              shared_as_held(event, before, settled)})
        if (!wrong.empty()) return wrong;
    return "";
}

bool is_yes(const v1::Reply& reply) {
    switch (reply.what_case()) {
        case v1::Reply::kClaim:
            return reply.claim().claimed();
        case v1::Reply::kSwitched:
            return reply.switched().answer() != v1::SwitchReply::wait &&
                   reply.switched().answer() != v1::SwitchReply::ask_marshal;
        case v1::Reply::kAssigned:
            return reply.assigned().assigned();
        case v1::Reply::kSwept:
            return reply.swept().entered();
        case v1::Reply::kTake:
            return reply.take().taken();
        case v1::Reply::kDone:
        case v1::Reply::kTicket:
        case v1::Reply::kGroup:
            return true;
        case v1::Reply::kRefusal:
        case v1::Reply::WHAT_NOT_SET:
            break;
    }
    return false;
}

std::string untrue(const v1::Command& command, const v1::Reply& reply, const Air& air) {
    if (reply.has_switched()) return untrue_of(reply.switched(), air);
    const auto is_on = [&](const std::string& name, double mhz) {
        const auto found = air.transmitters.find(name);
        return found != air.transmitters.end() && found->second.mhz == mhz;
    };
    if (reply.has_claim() && !is_on(reply.claim().transmitter(), reply.claim().channel().mhz()))
        return "a channel is held";
    for (const auto& one : reply.assigned().changed())
        if (!is_on(one.transmitter(), one.channel().mhz())) return "a channel is given";
    if (command.has_see() && !air.sightings.contains(reply.done().id())) return "it is seen";
    if (command.has_unsee() && air.sightings.contains(command.unsee().sighting()))
        return "it is not seen any more";
    return "";
}

bool leaves_a_mark(const v1::Command& command, const v1::Reply& reply) {
    if (command.has_sweep()) return reply.swept().entered();
    return command.has_see();
}

v1::BoardReply applied(const v1::BoardReply& board, const v1::Change& change) {
    if (!change.has_since()) return change.board();
    if (change.since() != board.version())
        throw Broken("a change is about a board that nobody has");
    std::map<std::string, v1::BoardRow> rows;
    std::vector<std::string> order;
    for (const auto& row : board.rows()) {
        rows[row.transmitter()] = row;
        order.push_back(row.transmitter());
    }
    for (const auto& name : change.gone()) {
        rows.erase(name);
        std::erase(order, name);
    }
    for (const auto& row : change.board().rows()) {
        if (!rows.contains(row.transmitter())) order.push_back(row.transmitter());
        rows[row.transmitter()] = row;
    }
    if (!change.order().empty()) order.assign(change.order().begin(), change.order().end());
    auto next = change.board();
    next.clear_rows();
    for (const auto& name : order) {
        const auto row = rows.find(name);
        if (row == rows.end()) throw Broken("a change orders a row that nobody has: " + name);
        *next.add_rows() = row->second;
    }
    return next;
}

}  // namespace fieldpeg::simulation
