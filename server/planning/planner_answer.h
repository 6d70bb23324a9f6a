#pragma once

#include "server/day/remarks.h"
#include "server/day/results.h"
#include "server/day/scene.h"
#include "server/day/state.h"
#include "server/day/words.h"
#include "server/planner/search.h"
#include "server/planning/plan.h"
#include "server/planning/plan_scene.h"
#include "server/refusal/refusal.h"

#include "fieldpeg/v1/query.pb.h"

#include <fmt/format.h>

#include <algorithm>
#include <chrono>
#include <cmath>
#include <optional>
#include <set>
#include <string>
#include <utility>

/// What the answers of the planner have in common.
namespace fieldpeg::planning {

/// What would help, or who stands in the way, is looked for this long.
inline constexpr double advice_seconds = 3;
/// Margins that may be asked for lie within this of zero.
inline constexpr double margin_db_max = 60;

/// The time that work may take, and the word to those who wait.
class Watch {
public:
    Watch(double seconds, const char* doing, const Work& work)
        : doing_(doing),
          work_(work),
          seconds_(seconds),
          began_(std::chrono::steady_clock::now()),
          told_(began_) {}

    double seconds() const {
        return std::chrono::duration<double>(std::chrono::steady_clock::now() - began_).count();
    }
    bool is_over() {
        const auto now = std::chrono::steady_clock::now();
        if (now - told_ >= progress_every) {
            told_ = now;
            progress_.set_seconds(seconds());
            progress_.set_seconds_left(std::max(0.0, seconds_ - seconds()));
            progress_.set_doing(doing_);
            if (!work_.progress(progress_)) is_enough_ = true;
        }
        return is_enough_ || seconds() >= seconds_;
    }
    bool is_enough() const { return is_enough_; }
    /// From here on, something else for so long.
    void turn_to(const char* doing, double more_seconds) {
        doing_ = doing;
        seconds_ = seconds() + more_seconds;
        progress_.clear_bound_db();
    }

    planner::Effort effort() {
        planner::Effort effort;
        effort.stop = [this] { return is_over(); };
        effort.is_past = [this](double share) { return seconds() >= share * seconds_; };
        effort.progress = [this](const planner::Outcome& known) {
            if (known.best && std::isfinite(known.worst_db))
                progress_.set_worst_margin_db(day::milli(known.worst_db));
            if (std::isfinite(known.bound_db)) progress_.set_bound_db(day::milli(known.bound_db));
        };
        return effort;
    }

private:
    const char* doing_;
    const Work& work_;
    double seconds_;
    std::chrono::steady_clock::time_point began_;
    std::chrono::steady_clock::time_point told_;
    bool is_enough_ = false;
    v1::Progress progress_;
};

inline v1::Answer refused(const Refusal& refusal) {
    v1::Answer answer;
    *answer.mutable_refusal() = day::message(refusal);
    return answer;
}

/// What is wrong with a question by itself.
template <class Query>
std::optional<Refusal> fault(const Query& query) {
    if (query.has_margin_db())
        if (auto wrong = outside("margin_db", query.margin_db(), -margin_db_max, margin_db_max))
            return wrong;
    if (query.planned().has_seconds())
        return outside("seconds", query.planned().seconds(), 0, plan_seconds_max);
    return std::nullopt;
}

/// The day has nobody to plan for: said before anything is computed.
inline std::optional<Refusal> nobody(const PlanScene& scene) {
    if (std::ranges::any_of(scene.seats(), &PlanScene::Seat::is_planned)) return std::nullopt;
    return Refusal{Refusal::Kind::conflict, "", "there is nobody to plan for",
                   "enter pilots with a transmitter, or leave --group out"};
}

inline double seconds_of(const v1::Planned& planned) {
    return planned.has_seconds() ? planned.seconds() : plan_seconds;
}

inline planner::Accept accept(const v1::Planned& planned) {
    return planned.on_tight() ? planner::Accept::tight : planner::Accept::steady;
}

template <class Reply>
void add_remarks(const v1::DaySheet& planned, Reply& reply) {
    const auto situation = day::situation(planned, v1::Basis::held);
    for (std::size_t t = 0; t < situation.transmitters.size(); ++t)
        for (auto& remark : day::remarks(situation, t, planned))
            *reply.add_remarks() = std::move(remark);
}

/// Whose control of an aircraft would be at risk, in each group in which they fly.
template <class Reply>
void add_controls(const v1::DaySheet& planned, Reply& reply) {
    std::set<std::uint32_t> groups;
    day::for_each_holder(planned, [&](const auto& one) {
        if (one.has_claim()) groups.insert(one.claim().group());
    });
    if (groups.size() > 1) groups.erase(0);  // who is in none flies with each
    std::set<std::string> said;
    for (const auto group : groups) {
        const auto sheet = day::of_group(planned, group);
        const day::Assessment assessment(sheet, v1::Basis::held);
        for (const auto& pilot : sheet.pilots()) {
            const auto result = day::pilot_result(assessment, pilot);
            if (result.verdict() != v1::Verdict::control_at_risk) continue;
            auto text = fmt::format("{}: {}", pilot.name(), result.reason());
            if (said.insert(text).second) reply.add_control(std::move(text));
        }
    }
}

template <class Reply>
void add_said(const PlanScene& scene, Reply& reply) {
    for (const auto& text : scene.said()) reply.add_said(text);
}

/// Who is no part of the worst margin, and what others cost them.
template <class Reply>
void add_who_does_not_count(const PlanScene& scene, const planner::Tables& tables,
                            const planner::Choice& choice, Reply& reply) {
    const auto standings = tables.standings(choice);
    const auto& unasked = tables.question().unasked;
    for (std::size_t i = 0; i < standings.size(); ++i) {
        if (!standings[i] || tables.counts(i)) continue;
        if (std::ranges::find(unasked, tables.viewers()[i].owner) != unasked.end()) continue;
        auto text = fmt::format(
            "{}: no good flight even with nobody else on the air, which no channel cures",
            scene.owner(tables.viewers()[i]));
        if (spectrum::interference(*standings[i]) != spectrum::Interference::none)
            text += fmt::format("; and the others cost {:.1f} dB", standings[i]->cost().count());
        reply.add_said(text);
    }
}

v1::Answer answer(const v1::PlanQuery& query, const v1::DaySheet& sheet, const Work& work);
v1::Answer answer(const v1::RotaQuery& query, const v1::DaySheet& sheet, const Work& work);
v1::Answer answer(const v1::RoomQuery& query, const v1::DaySheet& sheet, const Work& work);

}  // namespace fieldpeg::planning
