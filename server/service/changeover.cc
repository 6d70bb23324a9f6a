#include "server/service/changeover.h"

#include "server/day/state.h"
#include "server/day/trial.h"
#include "server/spectrum/verdict.h"

#include <fmt/format.h>

#include <algorithm>
#include <map>
#include <numeric>
#include <set>
#include <string>
#include <utility>

namespace fieldpeg::service {
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
        const auto set = [&](auto& holders) {
            for (auto& one : holders) {
                if (!one.has_claim()) continue;
                const auto group = one.claim().group();
                if (group == flying_)
                    one.mutable_claim()->set_stage(v1::Claim::on_air);
                else if (group == next_)
                    one.mutable_claim()->set_stage(v1::Claim::bench);
                else if (group != 0)
                    one.clear_claim();
            }
        };
        set(*staged.mutable_pilots());
        set(*staged.mutable_relays());
        return staged;
    }

    v1::DaySheet day_on_bench(const Names& names) const {
        auto day = day_;
        const auto drop = [&](auto& holders) {
            for (auto& one : holders)
                if (one.has_claim() && one.claim().group() == next_ &&
                    std::ranges::find(names, one.name()) == names.end())
                    one.clear_claim();
        };
        drop(*day.mutable_pilots());
        drop(*day.mutable_relays());
        return day;
    }

    bool harms(const Names& names) const {
        const auto now = day::standings(day_on_bench(names), v1::Basis::held);
        for (std::size_t i = 0; i < now.size(); ++i)
            if (now[i] && calm_[i] && spectrum::harms(*calm_[i], *now[i])) return true;
        return false;
    }

    std::uint32_t flying_;
    std::uint32_t next_;
    Names members_;
    v1::DaySheet day_;
    day::Standings calm_;
};

/// Of a number of groups, the order in which `cost` from each to the next, round and round, is
/// least.
std::vector<std::size_t> best_round(const std::vector<std::vector<std::size_t>>& cost) {
    std::vector<std::size_t> order(cost.size());
    std::iota(order.begin(), order.end(), std::size_t{0});
    const auto total = [&](const auto& round) {
        std::size_t sum = 0;
        for (std::size_t i = 0; i < round.size(); ++i)
            sum += cost[round[i]][round[(i + 1) % round.size()]];
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
                             [&](auto a, auto b) { return cost[order[i]][a] < cost[order[i]][b]; });
        std::iter_swap(order.begin() + static_cast<std::ptrdiff_t>(i) + 1, next);
    }
    return order;
}

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

}  // namespace

std::vector<v1::RotaGroup> flying_order(const v1::DaySheet& planned_day,
                                        const std::vector<v1::PlanChoice>& choices,
                                        std::uint32_t round, std::uint32_t first_group) {
    std::map<std::uint32_t, std::vector<v1::PlanChoice>> by_group;
    for (const auto& choice : choices) by_group[choice.group()].push_back(choice);
    std::vector<std::uint32_t> groups;
    for (const auto& [group, members] : by_group) groups.push_back(group);
    const auto names = [&](std::uint32_t group) {
        Names all;
        for (const auto& choice : by_group[group]) all.push_back(choice.transmitter());
        return all;
    };

    std::vector<std::vector<Names>> unplugged(groups.size(), std::vector<Names>(groups.size()));
    std::vector<std::vector<std::size_t>> cost(groups.size(),
                                               std::vector<std::size_t>(groups.size()));
    for (std::size_t a = 0; a < groups.size(); ++a) {
        for (std::size_t b = 0; b < groups.size(); ++b) {
            if (a == b) continue;
            unplugged[a][b] =
                Changeover(planned_day, groups[a], groups[b], names(groups[b])).unplugged();
            cost[a][b] = unplugged[a][b].size();
        }
    }
    const auto in_turn = best_round(cost);
    std::vector<std::uint32_t> number(groups.size());
    for (std::size_t i = 0; i < in_turn.size(); ++i)
        number[in_turn[i]] = first_group + static_cast<std::uint32_t>(i);
    auto order = in_turn;
    if (!order.empty())
        std::ranges::rotate(order,
                            order.begin() + static_cast<std::ptrdiff_t>(round % order.size()));

    std::vector<v1::RotaGroup> flying;
    for (std::size_t i = 0; i < order.size(); ++i) {
        const auto group = groups[order[i]];
        auto& m = flying.emplace_back();
        m.set_group(number[order[i]]);
        std::optional<double> worst;
        for (const auto& choice : by_group[group]) {
            auto& share = *m.add_choices() = choice;
            share.set_group(m.group());
            if (choice.has_margin_db())
                worst = std::min(worst.value_or(choice.margin_db()), choice.margin_db());
        }
        if (worst) m.set_worst_margin_db(*worst);
        if (order.size() == 1) continue;
        const auto before = order[(i + order.size() - 1) % order.size()];
        for (const auto& name : unplugged[before][order[i]]) m.add_unplugged(name);
        m.set_changeover(
            changeover_text(number[before], unplugged[before][order[i]], by_group[group].size()));
    }
    return flying;
}

}  // namespace fieldpeg::service
