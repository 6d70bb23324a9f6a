#include "server/day/deciding.h"
#include "server/day/scene.h"
#include "server/day/sentences.h"
#include "server/day/trial.h"
#include "server/day/words.h"

#include <fmt/format.h>
#include <fmt/ranges.h>

#include <algorithm>
#include <set>
#include <string>
#include <utility>
#include <vector>

/// What concerns the whole field: whose turn it is, and whether anybody's.
namespace fieldpeg::day {
namespace {

/// Everybody who holds a channel.
std::vector<Holder> holders(const v1::DaySheet& sheet) {
    std::vector<Holder> all;
    for_each_holder(sheet, [&](const auto& one) {
        if (auto held = holder(sheet, one.id()); held && held->claim && held->gear)
            all.push_back(*std::move(held));
    });
    return all;
}

v1::InTurn in_turn(const Holder& held, const v1::DayState& state) {
    v1::InTurn m;
    m.set_transmitter(held.name);
    m.set_owner(held.owner_name);
    m.set_is_relay(held.is_relay);
    *m.mutable_channel() = held.claim->channel();
    m.set_power_dbm(milli(held.claim->power_dbm()));
    if (held.radiates()) m.set_since_ms(held.claim->since_ms());
    const auto* who = person(state, held.owner_name);
    m.set_has_joined(who != nullptr && !who->withdrawn() && !who->awaits_nod());
    return m;
}

/// One group taking over from the others.
class Calling {
public:
    Calling(const Given& given, const v1::CallGroup& asked) : given_(given), asked_(asked) {}

    Decided decide() {
        if (auto wrong = fault()) return refused(*std::move(wrong));
        reply().set_group(asked_.group());
        reply().set_before(given_.state.flying_group());
        for (const auto& held : holders(given_.sheet())) sort(held);
        if (asked_.down() && !asked_.yes_anyway() && reply().off_size() > 0)
            return refused(ask_back());
        auto& events = decided_.decision.events;
        events.emplace_back().mutable_group_called()->set_group(asked_.group());
        add_next();
        call();
        return std::move(decided_);
    }

private:
    v1::GroupReply& reply() { return *decided_.decision.reply.mutable_group(); }

    std::optional<v1::Refusal> fault() const {
        if (!given_.is_marshal())
            return not_permitted("only the marshal calls a group", "ask the marshal");
        std::set<std::uint32_t> groups;
        for (const auto& held : holders(given_.sheet()))
            if (is_of_one_group(*held.claim)) groups.insert(held.claim->group());
        if (asked_.group() != 0 && !groups.contains(asked_.group()))
            return not_found("group",
                             fmt::format("nobody holds a channel in group {}", asked_.group()),
                             groups.empty() ? "claim with --group, or plan one: rota"
                                            : fmt::format("groups {}", fmt::join(groups, ", ")));
        if (!asked_.but().empty() && !asked_.down())
            return message({Refusal::Kind::malformed, "but", "goes with --down",
                            "who is still on the air though the others are off"});
        for (const auto& name : asked_.but())
            if (!holder(given_.sheet(), name))
                return not_found("but", fmt::format("nobody is called '{}'", name));
        return std::nullopt;
    }

    /// Of another group and in the air: off by what the marshal has seen, or still on. A relay is
    /// nobody's to see off from afar.
    void sort(const Holder& held) {
        if (!is_of_one_group(*held.claim) || held.claim->group() == asked_.group() ||
            !is_switched_on(held.claim->stage()))
            return;
        const bool left_out =
            std::ranges::find(asked_.but(), held.name) != asked_.but().end() || held.is_relay;
        if (!asked_.down() || left_out) {
            *reply().add_still_on() = in_turn(held, given_.state);
            return;
        }
        *reply().add_off() = in_turn(held, given_.state);
        auto& set = *decided_.decision.events.emplace_back().mutable_stage_set();
        set.set_subject(held.id);
        set.set_stage(v1::Claim::off_air);
    }

    v1::Refusal ask_back() {
        std::vector<std::string> names;
        for (const auto& one : reply().off())
            names.push_back(fmt::format("{} ({})", one.transmitter(),
                                        minutes_text(given_.now_ms - one.since_ms())));
        return conflict(
            "group",
            fmt::format("that says that {} off: {}", names.size() == 1 ? "one is" : "these are",
                        fmt::join(names, ", ")),
            "if you have seen it, say --yes; --but NAME for who still flies");
    }

    /// Who is next, each asked about as if they alone switched on now.
    void add_next() {
        if (asked_.group() == 0) return;
        const auto after = day::after(given_, decided_.decision.events);
        for (const auto& held : holders(after.sheet())) {
            if (!is_of_one_group(*held.claim) || held.claim->group() != asked_.group() ||
                held.radiates())
                continue;
            auto& one = *reply().add_next() = in_turn(held, after);
            auto claim = *held.claim;
            claim.set_stage(v1::Claim::on_air);
            const auto now =
                Trial(after.sheet(), held.id, v1::Basis::on_air, {0}, given_.memory).outcome(claim);
            for (const auto& h : now.harms) one.add_wait_for(h.pilot());
            if (now.harms.empty() && in_trouble(now.own.verdict())) one.set_why(own_text(now.own));
        }
    }

    /// Whoever is down of those for whom somebody would have to wait; empty: nobody.
    std::string lost_among(const v1::InTurn& one) const {
        for (const auto& name : one.wait_for()) {
            const auto held = holder(given_.sheet(), name);
            if (held && held->claim && held->claim->stage() == v1::Claim::down) return name;
        }
        return "";
    }

    /// Those without a phone first: nobody else tells them.
    void call() {
        auto& reply_to = decided_.decision.reply;
        for (const auto& one : reply().still_on())
            reply_to.add_call_out(fmt::format("{} is still on the air on {}, {}", one.transmitter(),
                                              channel_text(one.channel()),
                                              minutes_text(given_.now_ms - one.since_ms())));
        std::vector<const v1::InTurn*> next;
        for (const auto& one : reply().next()) next.push_back(&one);
        std::ranges::stable_sort(next, {}, [](const auto* one) { return one->has_joined(); });
        for (const auto* one : next) {
            if (const auto lost = lost_among(*one); !lost.empty())
                reply_to.add_call_out(fmt::format(
                    "{}: {} is down and may still radiate: wait, or take another channel",
                    one->transmitter(), lost));
            else if (!one->wait_for().empty())
                reply_to.add_call_out(fmt::format("{}: wait for {}", one->transmitter(),
                                                  fmt::join(one->wait_for(), ", ")));
            else if (!one->why().empty())
                reply_to.add_call_out(
                    fmt::format("{}: ask the marshal: {}", one->transmitter(), one->why()));
            else
                reply_to.add_call_out(fmt::format("{}: look first, then {} at {}",
                                                  one->transmitter(), channel_text(one->channel()),
                                                  power_text(one->power_dbm())));
        }
    }

    const Given& given_;
    const v1::CallGroup& asked_;
    Decided decided_;
};

/// Who is on the air, with their minutes; nothing if nobody is.
std::string still_on_text(const Given& given) {
    std::vector<std::string> names, down;
    for (const auto& held : holders(given.sheet())) {
        if (is_switched_on(held.claim->stage()))
            names.push_back(fmt::format("{} on {} ({}{})", held.name,
                                        channel_text(held.claim->channel()),
                                        minutes_text(given.now_ms - held.claim->since_ms()),
                                        is_to_be_confirmed(*held.claim) ? "; is it on?" : ""));
        else if (held.claim->stage() == v1::Claim::down)
            down.push_back(held.name);
    }
    std::string text;
    if (!names.empty()) text += fmt::format("; still on the air: {}", fmt::join(names, ", "));
    if (!down.empty()) text += fmt::format("; down: {}", fmt::join(down, ", "));
    return text;
}

v1::Refusal malformed(std::string why, std::string next) {
    return message({Refusal::Kind::malformed, "field", std::move(why), std::move(next)});
}

}  // namespace

Decided decide_group(const Given& given, const v1::CallGroup& asked) {
    return Calling(given, asked).decide();
}

Decided decide_close(const Given& given, const v1::CloseField& asked) {
    const bool has_joined = given.actor.role != v1::Role::unknown;
    if (asked.now() ? !has_joined : !given.is_marshal())
        return refused(not_permitted("only the marshal closes the field",
                                     "in danger everybody may: close --now"));
    if (asked.because().empty())
        return refused(malformed("nobody says why", "--because \"lunch\""));
    const auto& state = given.state;
    if (state.has_closed() && (state.closed().now() || !asked.now()))
        return refused(malformed(fmt::format("is closed already: {}", state.closed().because()),
                                 "the marshal opens it"));
    auto decided = done(fmt::format("the field is closed{}: {}{}", asked.now() ? " at once" : "",
                                    asked.because(), still_on_text(given)));
    auto& event = *decided.decision.events.emplace_back().mutable_field_closed();
    event.set_because(asked.because());
    event.set_now(asked.now());
    decided.decision.reply.add_call_out(
        asked.now() ? fmt::format("Land now, everybody: {}", asked.because())
                    : fmt::format("The field closes: {}. End your flights; nobody switches on",
                                  asked.because()));
    return decided;
}

Decided decide_open(const Given& given) {
    if (!given.is_marshal())
        return refused(not_permitted("only the marshal opens the field", "ask the marshal"));
    if (!given.state.has_closed()) return refused(malformed("is open", "there is nothing to do"));
    auto decided = done(fmt::format("the field is open{}", still_on_text(given)));
    decided.decision.events.emplace_back().mutable_field_opened();
    decided.decision.reply.add_call_out(
        given.state.flying_group() == 0
            ? std::string("The field is open: ask before you switch on")
            : fmt::format("The field is open: group {} flies, ask before you switch on",
                          given.state.flying_group()));
    return decided;
}

Decided decide_walk(const Given& given, const v1::Walk& asked) {
    const auto held = holder(given.sheet(), asked.transmitter());
    if (!held)
        return refused(
            not_found("transmitter", fmt::format("nobody is called '{}'", asked.transmitter())));
    if (given.actor.role != v1::Role::marshal && given.actor.role != v1::Role::pilot)
        return refused(not_permitted("onlookers enter nothing", "tell the marshal"));
    const auto& walks = given.state.walks();
    const bool walks_there = std::ranges::find(walks, held->id) != walks.end();
    if (asked.is_back()) {
        if (!walks_there)
            return refused(malformed(fmt::format("nobody walks to {}", held->name),
                                     "'fieldpeg board' shows who does"));
        auto decided = done(fmt::format("back on the line; {} is {}", held->name,
                                        stage_name(held->claim->stage())));
        decided.decision.events.emplace_back().mutable_walk_ended()->set_subject(held->id);
        return decided;
    }
    if (!held->claim || held->claim->stage() != v1::Claim::down)
        return refused(conflict(held->name, "is not down", "off --down says so"));
    if (walks_there)
        return refused(malformed(fmt::format("somebody walks to {} already", held->name),
                                 "back on the line: find --back"));
    const auto* lost = pilot(given.sheet(), held->owner);
    if (auto flies = lost ? who_flies_over(given.sheet(), *lost) : std::vector<std::string>();
        !flies.empty())
        return refused(conflict(
            "find",
            fmt::format("{} {} in the air where {} lies", fmt::join(flies, ", "),
                        flies.size() == 1 ? "is" : "are", held->name),
            given.state.has_closed() ? "let them land first"
                                     : "close the field first, and let them land: field close"));
    auto decided =
        done(fmt::format("noted: somebody walks to {}; nobody switches on there until "
                         "they are back on the line",
                         held->name));
    decided.decision.events.emplace_back().mutable_walk_begun()->set_subject(held->id);
    decided.decision.reply.add_call_out(
        fmt::format("Somebody walks out to {}: nobody flies there", held->name));
    return decided;
}

}  // namespace fieldpeg::day
