#include "server/planning/changeover.h"

#include "server/day/comparison.h"
#include "server/day/state.h"

#include <fmt/format.h>

#include <algorithm>
#include <map>
#include <numeric>
#include <optional>
#include <string>
#include <utility>

namespace fieldpeg::planning {
namespace {

using Names = std::vector<std::string>;

/// Up to so many groups every order is tried; more take the nearest next one in turn.
constexpr std::size_t groups_tried = 7;

/// Two groups of a planned day: one flies, the other gets ready.
class Changeover {
public:
    Changeover(const v1::DaySheet& day, std::uint32_t flying, std::uint32_t next, Names members)
        : flying_(flying), next_(next), members_(std::move(members)), day_(with_stages(day)) {
        calm_ = day::standings(day_on_bench({}), v1::Basis::held);
    }

    /// Who of the next group must stay unplugged: whoever harms one in the air, and all of them
    /// where it takes several to do harm.
    Names unplugged() const {
        Names alone;
        for (const auto& name : members_)
            if (harms({name})) alone.push_back(name);
        Names rest;
        for (const auto& name : members_)
            if (std::ranges::find(alone, name) == alone.end()) rest.push_back(name);
        return rest.empty() || !harms(rest) ? alone : members_;
    }

private:
    /// Whoever flies is on the air; other groups are not there.
    v1::DaySheet with_stages(const v1::DaySheet& day) const {
        auto staged = day;
        day::for_each_holder(staged, [&](auto& one) {
            if (!one.has_claim()) return;
            const auto group = one.claim().group();
            if (group == flying_)
                one.mutable_claim()->set_stage(v1::Claim::on_air);
            else if (group == next_)
                one.mutable_claim()->set_stage(v1::Claim::bench);
            else if (group != 0)
                one.clear_claim();
        });
        return staged;
    }

    v1::DaySheet day_on_bench(const Names& names) const {
        auto day = day_;
        day::for_each_holder(day, [&](auto& one) {
            if (one.has_claim() && one.claim().group() == next_ &&
                std::ranges::find(names, one.name()) == names.end())
                one.clear_claim();
        });
        return day;
    }

    bool harms(const Names& names) const {
        const auto sheet = day_on_bench(names);
        const day::Assessment now(sheet, v1::Basis::held);
        return std::ranges::any_of(day::Comparison(calm_, now).pilots(),
                                   [](const auto& of) { return of.change.is_harm(); });
    }

    std::uint32_t flying_;
    std::uint32_t next_;
    Names members_;
    v1::DaySheet day_;
    day::Standings calm_;
};

std::string changeover_text(std::uint32_t before, const Names& unplugged, std::size_t members) {
    if (unplugged.empty())
        return fmt::format("while group {} flies, everybody may stand on the bench at bench power",
                           before);
    if (unplugged.size() == members)
        return fmt::format("everybody unplugged until group {} has landed and is off", before);
    return fmt::format(
        "unplugged until group {} has landed and is off: {}; the others may stand "
        "on the bench",
        before, fmt::join(unplugged, ", "));
}

/// The shares of one group of a planned day, under its number there.
struct Group {
    std::uint32_t number;
    std::vector<v1::PlanChoice> choices;
};

std::vector<Group> groups_of(const std::vector<v1::PlanChoice>& choices) {
    std::map<std::uint32_t, std::vector<v1::PlanChoice>> by_number;
    for (const auto& choice : choices) by_number[choice.group()].push_back(choice);
    std::vector<Group> groups;
    groups.reserve(by_number.size());
    for (auto& [number, of_group] : by_number) groups.push_back({number, std::move(of_group)});
    return groups;
}

/// [flying][next]: who of the next must be unplugged.
using Unplugged = std::vector<std::vector<Names>>;

Unplugged unplugged_between(const v1::DaySheet& day, const std::vector<Group>& groups) {
    Unplugged all(groups.size(), std::vector<Names>(groups.size()));
    for (std::size_t flying = 0; flying < groups.size(); ++flying) {
        for (std::size_t next = 0; next < groups.size(); ++next) {
            if (flying == next) continue;
            Names members;
            for (const auto& choice : groups[next].choices) members.push_back(choice.transmitter());
            all[flying][next] =
                Changeover(day, groups[flying].number, groups[next].number, members).unplugged();
        }
    }
    return all;
}

std::vector<std::size_t> as_numbered(std::size_t groups) {
    std::vector<std::size_t> order(groups);
    std::iota(order.begin(), order.end(), std::size_t{0});
    return order;
}

/// The order of groups in which, round and round, the fewest are unplugged from each to the next.
std::vector<std::size_t> best_round(const Unplugged& unplugged) {
    const auto cost = [&](std::size_t flying, std::size_t next) {
        return unplugged[flying][next].size();
    };
    auto order = as_numbered(unplugged.size());
    const auto total = [&](const auto& round) {
        std::size_t sum = 0;
        for (std::size_t i = 0; i < round.size(); ++i)
            sum += cost(round[i], round[(i + 1) % round.size()]);
        return sum;
    };
    if (order.size() <= groups_tried) {
        auto best = order;
        while (std::next_permutation(order.begin() + (order.empty() ? 0 : 1), order.end()))
            if (total(order) < total(best)) best = order;
        return best;
    }
    for (std::size_t i = 0; i + 1 < order.size(); ++i) {
        const auto next =
            std::min_element(order.begin() + static_cast<std::ptrdiff_t>(i) + 1, order.end(),
                             [&](auto a, auto b) { return cost(order[i], a) < cost(order[i], b); });
        std::iter_swap(order.begin() + static_cast<std::ptrdiff_t>(i) + 1, next);
    }
    return order;
}

v1::RotaGroup turn_of(const Group& group, std::uint32_t number) {
    v1::RotaGroup turn;
    turn.set_group(number);
    std::optional<double> worst;
    for (const auto& choice : group.choices) {
        auto& share = *turn.add_choices() = choice;
        share.set_group(number);
        if (choice.has_margin_db())
            worst = std::min(worst.value_or(choice.margin_db()), choice.margin_db());
    }
    if (worst) turn.set_worst_margin_db(*worst);
    return turn;
}

}  // namespace

std::vector<v1::RotaGroup> flying_order(const v1::DaySheet& planned_day,
                                        const std::vector<v1::PlanChoice>& choices,
                                        std::uint32_t round,
                                        std::optional<std::uint32_t> first_group) {
    const auto groups = groups_of(choices);
    const auto unplugged = unplugged_between(planned_day, groups);
    const auto order = first_group ? best_round(unplugged) : as_numbered(groups.size());
    const std::size_t count = order.size();
    std::vector<v1::RotaGroup> flying;
    for (std::size_t turn = 0; turn < count; ++turn) {
        const std::size_t at = (turn + round) % count;
        const std::size_t before = (at + count - 1) % count;
        const auto number = [&](std::size_t i) {
            return first_group ? *first_group + static_cast<std::uint32_t>(i)
                               : groups[order[i]].number;
        };
        auto& m = flying.emplace_back(turn_of(groups[order[at]], number(at)));
        if (count == 1) continue;
        const auto& names = unplugged[order[before]][order[at]];
        for (const auto& name : names) m.add_unplugged(name);
        m.set_changeover(changeover_text(number(before), names, groups[order[at]].choices.size()));
    }
    return flying;
}

}  // namespace fieldpeg::planning
