#include "server/service/lookalikes.h"

#include "server/book/lookalikes.h"
#include "server/book/names.h"
#include "server/day/state.h"

#include <fmt/format.h>

#include <algorithm>

namespace fieldpeg::service {
namespace {

using Names = std::vector<std::string>;

enum class Waiting { counts, does_not };

/// All who are called by a name in a day, each once.
Names names_of(const v1::DayState& state, Waiting waiting) {
    Names names;
    day::for_each_holder(state.sheet(), [&](const auto& one) { names.push_back(one.name()); });
    for (const auto& e : state.sheet().field().emitters()) names.push_back(e.name());
    for (const auto& p : state.people())
        if (waiting == Waiting::counts || !day::is_waiting(p)) names.push_back(p.name());
    std::ranges::sort(names);
    names.erase(std::unique(names.begin(), names.end()), names.end());
    return names;
}

bool is_among(const Names& names, std::string_view name) {
    const auto key = book::name_key(name);
    return std::ranges::any_of(names, [&](const auto& one) { return book::name_key(one) == key; });
}

}  // namespace

std::vector<std::string> resembled(const v1::DayState& state, std::string_view name) {
    return book::resembled(name, names_of(state, Waiting::does_not));
}

std::optional<Refusal> deceives(const v1::DayState& state, const v1::PartsPut& parts) {
    const auto known = names_of(state, Waiting::does_not);
    std::optional<Refusal> wrong;
    const auto look = [&](const auto& one) {
        if (wrong || is_among(known, one.name())) return;
        const auto like = book::resembled(one.name(), known);
        if (like.empty()) return;
        wrong = Refusal{Refusal::Kind::conflict, "name",
                        fmt::format("'{}' looks like '{}', who is here", one.name(), like.front()),
                        "another name, that nobody takes for theirs"};
    };
    day::for_each_holder(parts, look);
    for (const auto& e : parts.emitters()) look(e);
    return wrong;
}

void say_resembled(const v1::DayState& state, v1::BoardReply& board) {
    if (board.awaiting().empty()) return;
    const auto known = names_of(state, Waiting::counts);
    for (auto& one : *board.mutable_awaiting())
        for (auto& like : book::resembled(one.name(), known)) one.add_resembles(std::move(like));
}

}  // namespace fieldpeg::service
