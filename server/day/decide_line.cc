#include "server/day/deciding.h"
#include "server/day/line.h"
#include "server/day/words.h"

#include <fmt/format.h>

/// A place in the line of those who wait.
namespace fieldpeg::day {
namespace {

v1::Refusal has_no_place(const std::string& name) {
    return message({Refusal::Kind::malformed, "line", fmt::format("{} has no place in it", name),
                    "'fieldpeg line' shows it; to take one: on --when-free"});
}

Decided nobody_called(const std::string& name) {
    return refused(not_found("transmitter", fmt::format("nobody is called '{}'", name)));
}

}  // namespace

Decided decide_line(const Given& given, const v1::LeaveLine& asked) {
    const auto held = holder(given.sheet(), asked.transmitter());
    if (!held) return nobody_called(asked.transmitter());
    if (!given.may_act_for(*held))
        return refused(not_permitted(
            fmt::format("only {} or the marshal gives that place up", held->owner_name)));
    if (place_in_line(given.state, held->id) == 0) return refused(has_no_place(held->name));
    auto decided = done(fmt::format("{} has left the line", held->name));
    auto& event = *decided.decision.events.emplace_back().mutable_left_line();
    event.set_subject(held->id);
    event.set_why(v1::LeftLine::asked);
    return decided;
}

Decided decide_line(const Given& given, const v1::MoveInLine& asked) {
    if (!given.is_marshal())
        return refused(not_permitted("only the marshal changes the order", "ask the marshal"));
    const auto held = holder(given.sheet(), asked.transmitter());
    if (!held) return nobody_called(asked.transmitter());
    const auto place = place_in_line(given.state, held->id);
    if (place == 0) return refused(has_no_place(held->name));
    const auto last = static_cast<std::uint32_t>(given.state.line_size());
    if (asked.place() < 1 || asked.place() > last)
        return refused(message({Refusal::Kind::malformed, "place",
                                fmt::format("there is no place {} in the line", asked.place()),
                                fmt::format("1 to {}", last)}));
    if (place == asked.place())
        return done(fmt::format("{} has place {} already", held->name, place));
    auto decided = done(fmt::format("{} has place {} in the line", held->name, asked.place()));
    auto& event = *decided.decision.events.emplace_back().mutable_line_moved();
    event.set_subject(held->id);
    event.set_place(asked.place());
    return decided;
}

}  // namespace fieldpeg::day
