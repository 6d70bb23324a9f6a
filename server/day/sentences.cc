#include "server/day/sentences.h"

#include "server/day/line.h"
#include "server/day/phrases.h"
#include "server/day/scene.h"
#include "server/day/state.h"
#include "server/day/words.h"

#include <fmt/format.h>

#include <algorithm>
#include <vector>

namespace fieldpeg::day {
namespace {

std::string counted(int count, const char* what) {
    return fmt::format("{} {}{}", count, what, count == 1 ? "" : "s");
}

std::string claim_text(const v1::Claim& claim) {
    auto text =
        fmt::format("{} at {}", channel_text(claim.channel()), power_text(claim.power_dbm()));
    if (claim.group() != 0) text += fmt::format(", flight group {}", claim.group());
    return text;
}

std::string because(const std::string& reason) {
    return reason.empty() ? "" : fmt::format("; allowed because {}", reason);
}

template <class List>
void add_names(const char* what, const List& list, std::vector<std::string>& all) {
    for (const auto& one : list) all.push_back(fmt::format("{} {}", what, one.name()));
}

std::string parts_text(const v1::PartsPut& parts) {
    std::vector<std::string> all;
    add_names("place", parts.places(), all);
    add_names("area", parts.areas(), all);
    add_names("emitter", parts.emitters(), all);
    add_names("kit", parts.kits(), all);
    add_names("pilot", parts.pilots(), all);
    add_names("relay", parts.relays(), all);
    return fmt::format("entered or changed: {}", fmt::join(all, ", "));
}

std::string stage_text(const v1::StageSet& to, const std::string& who) {
    switch (to.stage()) {
        case v1::Claim::told_on:
            return who + " is told to switch on";
        case v1::Claim::on_air:
            if (to.unconfirmed()) return who + " is on the air, not confirmed";
            return who + (to.unasked() ? " is on the air already, unasked" : " goes on the air");
        case v1::Claim::bench:
            return who +
                   (to.unasked() ? " is on the bench already" : " is switched on, on the bench");
        case v1::Claim::off_air:
            return who + " is off the air";
        case v1::Claim::down:
            return who + " is down, perhaps still radiating" +
                   (to.lies().empty() ? "" : ": " + to.lies());
        default:
            return who + " was not switched on after all, and holds its channel";
    }
}

/// "back by 456 days 8 h", "forward by 2 min 30 s", "back by 3.5 s".
std::string moved_text(std::int64_t by_ms) {
    constexpr std::uint64_t second_ms = 1000, minute_s = 60, hour_s = 60 * minute_s,
                            day_s = 24 * hour_s;
    const auto* way = by_ms < 0 ? "back" : "forward";
    const auto as_it_is = static_cast<std::uint64_t>(by_ms);
    const auto ms = by_ms < 0 ? 0 - as_it_is : as_it_is;
    const auto s = ms / second_ms;
    if (s < minute_s)
        return fmt::format("{} by {:.1f} s", way, static_cast<double>(ms) / second_ms);
    if (s < hour_s) return fmt::format("{} by {} min {} s", way, s / minute_s, s % minute_s);
    if (s < day_s) return fmt::format("{} by {} h {} min", way, s / hour_s, s % hour_s / minute_s);
    return fmt::format("{} by {} day{} {} h", way, s / day_s, s / day_s == 1 ? "" : "s",
                       s % day_s / hour_s);
}

std::string sighting_text(const v1::Sighting& s) {
    return fmt::format("something is on {} at {}{}, seen{}", channel_text(s.channel()),
                       power_text(s.power_dbm()), s.place().empty() ? "" : " at " + s.place(),
                       s.note().empty() ? "" : ": " + s.note());
}

/// Whose turn it is, and whether anybody's.
std::string turn_text(const v1::Event& event) {
    if (event.has_field_opened()) return "the field is open";
    if (event.has_field_closed())
        return fmt::format("the field is closed{}: {}",
                           event.field_closed().now() ? " at once" : "",
                           event.field_closed().because());
    const auto group = event.group_called().group();
    return group == 0 ? "whoever likes may fly: no group is called"
                      : fmt::format("group {} is called", group);
}

std::string line_text(const v1::Event& event, const std::string& who) {
    if (event.has_queued()) return who + " takes a place in the line";
    if (event.has_left_line())
        return who + (event.left_line().why() == v1::LeftLine::unanswered
                          ? " leaves the line: was called twice without an answer"
                          : " leaves the line");
    if (event.has_called_up()) return who + " is called: it is free";
    if (event.has_call_lapsed())
        return who + (event.call_lapsed().taken_back() ? " is no longer called"
                                                       : " did not answer the call");
    if (event.has_passed_over()) return who + " is passed over";
    return fmt::format("{} has place {} in the line", who, event.line_moved().place());
}

/// Whether somebody in the line is for the channel that one is on.
bool is_waited_for(const v1::DayState& state, std::uint32_t subject) {
    const auto on = holder(state.sheet(), subject);
    return std::ranges::any_of(state.line(), [&](const v1::Waiting& one) {
        const auto waits = holder(state.sheet(), one.subject());
        return on && on->claim && waits && waits->claim &&
               waits->claim->channel().mhz() == on->claim->channel().mhz();
    });
}

/// What it does to somebody, as its cause is told.
std::string does_text(const v1::Warning& w, const std::string& whose) {
    if (w.after() == v1::Verdict::control_at_risk)
        return fmt::format("may take the control of {}'s aircraft", whose);
    const bool breaks = w.after() == v1::Verdict::clash || w.after() == v1::Verdict::shaky ||
                        w.after() == v1::Verdict::no_picture;
    return fmt::format("{} {}'s picture", breaks ? "breaks" : "harms", whose);
}

}  // namespace

std::string_view stage_name(v1::Claim::Stage stage) {
    switch (stage) {
        case v1::Claim::held:
            return "held";
        case v1::Claim::bench:
            return "on the bench";
        case v1::Claim::told_on:
            return "told to switch on";
        case v1::Claim::on_air:
            return "on air";
        case v1::Claim::off_air:
            return "off air";
        case v1::Claim::down:
            return "down";
        default:
            return "";
    }
}

namespace {

std::string_view kind_name(v1::Claim::Stage stage) {
    switch (stage) {
        case v1::Claim::told_on:
            return "told_on";
        case v1::Claim::on_air:
            return "on_air";
        case v1::Claim::held:
            return "taken_back";
        case v1::Claim::bench:
            return "bench";
        case v1::Claim::down:
            return "down";
        default:
            return "off_air";
    }
}

}  // namespace

std::string_view kind_name(const v1::Event& event) {
    switch (event.what_case()) {
        case v1::Event::kDaySetUp:
            return "set_up";
        case v1::Event::kPartsPut:
            return "changed";
        case v1::Event::kPartsGone:
            return "removed";
        case v1::Event::kRulesSet:
            return "rules";
        case v1::Event::kClaimed:
            return "claimed";
        case v1::Event::kReleased:
            return "released";
        case v1::Event::kStageSet:
            return kind_name(event.stage_set().stage());
        case v1::Event::kSwept:
            return "sweep";
        case v1::Event::kSeen:
            return "sighting";
        case v1::Event::kSightingGone:
            return "sighting_gone";
        case v1::Event::kJoined:
            return "joined";
        case v1::Event::kNodded:
            return "nodded";
        case v1::Event::kNodRefused:
            return "nod_refused";
        case v1::Event::kCauseAnswered:
            return "cause_answered";
        case v1::Event::kKeyWithdrawn:
            return "key_withdrawn";
        case v1::Event::kWarning:
            return "warning";
        case v1::Event::kWarningAcknowledged:
            return "told";
        case v1::Event::kGroupCalled:
            return "group";
        case v1::Event::kFieldClosed:
            return "closed";
        case v1::Event::kFieldOpened:
            return "opened";
        case v1::Event::kQueued:
        case v1::Event::kLeftLine:
        case v1::Event::kCalledUp:
        case v1::Event::kCallLapsed:
        case v1::Event::kPassedOver:
        case v1::Event::kLineMoved:
            return "line";
        case v1::Event::kRestarted:
            return "restarted";
        case v1::Event::kRoleGiven:
            return "role";
        case v1::Event::kWalkBegun:
        case v1::Event::kWalkEnded:
            return "walk";
        case v1::Event::kHeadSet:
            return "head";
        case v1::Event::kClockJumped:
            return "clock";
        case v1::Event::WHAT_NOT_SET:
            break;
    }
    return "unknown";
}

std::uint32_t subject(const v1::Event& event) {
    switch (event.what_case()) {
        case v1::Event::kClaimed:
            return event.claimed().subject();
        case v1::Event::kReleased:
            return event.released().subject();
        case v1::Event::kStageSet:
            return event.stage_set().subject();
        case v1::Event::kSeen:
            return event.seen().sighting().id();
        case v1::Event::kSightingGone:
            return event.sighting_gone().id();
        case v1::Event::kQueued:
            return event.queued().subject();
        case v1::Event::kLeftLine:
            return event.left_line().subject();
        case v1::Event::kCalledUp:
            return event.called_up().subject();
        case v1::Event::kCallLapsed:
            return event.call_lapsed().subject();
        case v1::Event::kPassedOver:
            return event.passed_over().subject();
        case v1::Event::kLineMoved:
            return event.line_moved().subject();
        case v1::Event::kRoleGiven:
            return event.role_given().person();
        case v1::Event::kWalkBegun:
            return event.walk_begun().subject();
        case v1::Event::kWalkEnded:
            return event.walk_ended().subject();
        case v1::Event::kJoined:
            return event.joined().person().id();
        case v1::Event::kNodded:
            return event.nodded().person();
        case v1::Event::kNodRefused:
            return event.nod_refused().person();
        case v1::Event::kKeyWithdrawn:
            return event.key_withdrawn().person();
        case v1::Event::kWarning:
            return event.warning().pilot();
        case v1::Event::kPartsPut: {
            const auto& parts = event.parts_put();
            if (parts.pilots_size() == 1) return parts.pilots(0).id();
            if (parts.pilots().empty() && parts.relays_size() == 1) return parts.relays(0).id();
            return 0;
        }
        case v1::Event::kPartsGone:
            return event.parts_gone().ids().empty() ? 0 : event.parts_gone().ids(0);
        default:
            return 0;
    }
}

std::string name_of(const v1::DayState& state, std::uint32_t id) {
    if (id == 0) return "the server";
    if (const auto held = holder(state.sheet(), id)) return held->name;
    if (const auto* p = person(state, id)) return p->name();
    for (const auto& s : state.sheet().sightings())
        if (s.id() == id) return sighting_name(id);
    for (const auto& e : state.sheet().field().emitters())
        if (e.id() == id) return e.name();
    return fmt::format("number {}", id);
}

namespace {

std::string gone_text(const v1::PartsGone& gone, const v1::DayState& state) {
    std::vector<std::string> names;
    for (const auto id : gone.ids()) names.push_back(name_of(state, id));
    for (const auto& name : gone.places()) names.push_back("place " + name);
    for (const auto& name : gone.areas()) names.push_back("area " + name);
    for (const auto& name : gone.kits()) names.push_back("kit " + name);
    return fmt::format("removed: {}", fmt::join(names, ", "));
}

std::string swept_text(const v1::Swept& swept) {
    const auto& sweep = swept.sweep();
    return fmt::format(
        "a sweep from {} to {} MHz is entered{}{}", mhz_text(sweep.start_mhz()),
        mhz_text(sweep.start_mhz() + sweep.step_mhz() * (sweep.level_dbm_size() - 1)),
        sweep.note().empty() ? "" : fmt::format(" ({})", sweep.note()),
        swept.has_floor() ? "; its noise floor counts" : "");
}

std::string head_text(const v1::HeadSet& head) {
    return fmt::format("the day is '{}' on {}{}", head.name(), head.date(),
                       head.has_power_limit_dbm() ? fmt::format(", the club's limit {}",
                                                                power_text(head.power_limit_dbm()))
                                                  : "");
}

std::string person_text(const v1::Event& event, const std::string& who, const v1::DayState& state) {
    if (event.has_nodded())
        return who + (pilot(state.sheet(), who) ? " may act as that pilot" : " may take part");
    if (event.has_nod_refused()) return fmt::format("whoever waited as {} is somebody else", who);
    if (event.has_key_withdrawn()) return fmt::format("{}'s key is withdrawn", who);
    if (event.has_role_given())
        return fmt::format("{} is {} from now on", who,
                           v1::Role::Kind_Name(event.role_given().role()));
    const auto& person = event.joined().person();
    return fmt::format("{} joins as {}{}{}", person.name(), v1::Role::Kind_Name(person.role()),
                       person.without_ticket() ? ", without a ticket," : "",
                       person.awaits_nod() ? " and waits for the marshal's nod" : "");
}

std::string set_up_text(const v1::DaySheet& sheet) {
    return fmt::format("the day '{}' is set up, {} and {}", sheet.name(),
                       counted(sheet.pilots_size(), "pilot"),
                       counted(sheet.relays_size(), "relay"));
}

}  // namespace

std::string sentence(const v1::Event& event, const v1::DayState& state) {
    const auto who = name_of(state, subject(event));
    switch (event.what_case()) {
        case v1::Event::kDaySetUp:
            return set_up_text(event.day_set_up().sheet());
        case v1::Event::kPartsPut:
            return parts_text(event.parts_put());
        case v1::Event::kPartsGone:
            return gone_text(event.parts_gone(), state);
        case v1::Event::kRulesSet:
            return event.rules_set().has_rules() ? fmt::format("held against the rule set {}",
                                                               event.rules_set().rules().name())
                                                 : "held against no rule set";
        case v1::Event::kClaimed:
            return fmt::format("{} holds {}{}", who, claim_text(event.claimed().claim()),
                               because(event.claimed().claim().allowed_because()));
        case v1::Event::kReleased:
            return fmt::format(
                "{} gives its channel back{}", who,
                event.released().reason().empty() ? "" : ": " + event.released().reason());
        case v1::Event::kStageSet:
            return stage_text(event.stage_set(), who) +
                   because(event.stage_set().allowed_because());
        case v1::Event::kSwept:
            return swept_text(event.swept());
        case v1::Event::kSeen:
            return sighting_text(event.seen().sighting());
        case v1::Event::kSightingGone:
            return fmt::format("{} is no longer there", who);
        case v1::Event::kJoined:
        case v1::Event::kNodded:
        case v1::Event::kNodRefused:
        case v1::Event::kKeyWithdrawn:
        case v1::Event::kRoleGiven:
            return person_text(event, who, state);
        case v1::Event::kWarning:
            return call_out(event.warning(), state.sheet());
        case v1::Event::kWarningAcknowledged:
            return fmt::format("warning #{} has been told", event.warning_acknowledged().warning());
        case v1::Event::kCauseAnswered:
            return fmt::format("the cause of warning #{} cannot reach it",
                               event.cause_answered().warning());
        case v1::Event::kGroupCalled:
        case v1::Event::kFieldClosed:
        case v1::Event::kFieldOpened:
            return turn_text(event);
        case v1::Event::kQueued:
        case v1::Event::kLeftLine:
        case v1::Event::kCalledUp:
        case v1::Event::kCallLapsed:
        case v1::Event::kPassedOver:
        case v1::Event::kLineMoved:
            return line_text(event, who);
        case v1::Event::kRestarted:
            return "the server was started anew: what was on the air is as of then";
        case v1::Event::kWalkBegun:
            return fmt::format("somebody walks out to {}", who);
        case v1::Event::kWalkEnded:
            return fmt::format("whoever walked out to {} is back on the line", who);
        case v1::Event::kHeadSet:
            return head_text(event.head_set());
        case v1::Event::kClockJumped:
            return fmt::format("the server's clock was set {}",
                               moved_text(event.clock_jumped().by_ms()));
        case v1::Event::WHAT_NOT_SET:
            break;
    }
    return "something that this version does not know";
}

std::string call_out(const v1::Warning& w, const v1::DaySheet& sheet) {
    const auto* concerned = pilot(sheet, w.pilot());
    const auto name = concerned ? concerned->name() : fmt::format("pilot {}", w.pilot());
    const auto cause = holder(sheet, w.cause());
    const auto what = w.cause_is_sighting() ? "something" : cause ? cause->name : "somebody";
    if (w.kind() == v1::Warning::source_off)
        return fmt::format("{}: your picture goes, {} is switched off", name, what);
    if (w.kind() == v1::Warning::moved)
        return fmt::format("{}: {} now {} {} at {}", name, cause && cause->is_relay ? what : "you",
                           cause && cause->is_relay ? "is for" : "have", channel_text(w.channel()),
                           power_text(w.power_dbm()));
    std::string by = w.channel().mhz() > 0
                         ? fmt::format("{} is on {}", what, channel_text(w.channel()))
                         : "the field, its noise or somebody's gear has changed";
    if (w.channel().mhz() > 0 && (w.power_dbm() != 0 || w.cause() != 0))
        by += fmt::format(" at {}", power_text(w.power_dbm()));
    auto text = fmt::format("{}: your picture gets worse, {}; {} becomes {}", name, by,
                            verdict_word(w.before()), verdict_word(w.after()));
    if (w.after() == v1::Verdict::control_at_risk)
        text = fmt::format("{}: land, you may lose control of your aircraft, {}", name, by);
    else if (w.after() == w.before())
        text = fmt::format("{}: your margin drops, {}", name, by);
    if (w.has_margin_after_db() && w.after() != v1::Verdict::control_at_risk)
        text += fmt::format(" ({} dB left)", db_text(w.margin_after_db()));
    if (w.kind() == v1::Warning::allowed) text += "; the marshal allowed it";
    return text;
}

v1::Warning::Remedy remedy_now(const v1::Warning& w, const v1::DaySheet& sheet) {
    const auto cause = w.cause_is_sighting() ? std::nullopt : holder(sheet, w.cause());
    if (w.remedy() == v1::Warning::none || !cause) return v1::Warning::none;
    const auto owner = holder(sheet, cause->owner);
    const bool flies =
        owner && owner->is_in_the_air() && owner->claim->stage() != v1::Claim::told_on;
    return flies ? v1::Warning::land_then_off : w.remedy();
}

std::string call_out_cause(const v1::Warning& w, const v1::DaySheet& sheet) {
    const auto remedy = remedy_now(w, sheet);
    const auto* concerned = pilot(sheet, w.pilot());
    if (remedy == v1::Warning::none || !concerned) return "";
    const auto cause = *holder(sheet, w.cause());
    const auto what = cause.is_relay ? cause.name : "your aircraft's transmitter";
    const auto does = does_text(w, concerned->name());
    if (w.cause_answer() == v1::Warning::cannot_reach)
        return fmt::format("{} cannot reach it: {} off, somebody: it {}", cause.owner_name,
                           cause.is_relay ? cause.name : cause.owner_name + "'s transmitter", does);
    if (remedy == v1::Warning::land_then_off)
        return fmt::format("{}: land, then {} off: it {}", cause.owner_name,
                           cause.is_relay ? cause.name : "switch", does);
    if (remedy == v1::Warning::off)
        return fmt::format("{}: {} {}: switch it off", cause.owner_name, what, does);
    return fmt::format("{}: {} {}: down to {}, or off", cause.owner_name, what, does,
                       power_text(w.remedy_dbm()));
}

std::vector<std::string> call_outs(const v1::Event& event, const v1::DayState& state) {
    const auto& sheet = state.sheet();
    std::vector<std::string> all;
    if (event.has_warning()) {
        all.push_back(call_out(event.warning(), sheet));
        if (auto cause = call_out_cause(event.warning(), sheet); !cause.empty())
            all.push_back(std::move(cause));
    } else if (event.has_called_up()) {
        const auto who = holder(sheet, event.called_up().subject());
        if (who && who->claim)
            all.push_back(fmt::format("{}, your turn{}: look first, then {}; {} seconds",
                                      who->owner_name, who->is_relay ? " with " + who->name : "",
                                      channel_text(who->claim->channel()), call_valid_ms / 1000));
    } else if (event.left_line().why() == v1::LeftLine::unanswered) {
        all.push_back(fmt::format("{}: you were called twice and have left the line",
                                  name_of(state, event.left_line().subject())));
    } else if (event.stage_set().unconfirmed()) {
        if (is_waited_for(state, event.stage_set().subject()))
            all.push_back(fmt::format("{}: is it on? Somebody waits for that channel",
                                      name_of(state, event.stage_set().subject())));
    } else if (event.field_closed().now()) {
        all.push_back(fmt::format("Land now, everybody: {}", event.field_closed().because()));
    }
    return all;
}

}  // namespace fieldpeg::day
