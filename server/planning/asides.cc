#include "server/planning/asides.h"

#include "server/day/words.h"
#include "server/spectrum/standing.h"
#include "server/spectrum/viewer.h"

#include <algorithm>
#include <cmath>
#include <map>
#include <optional>
#include <string>
#include <utility>

namespace fieldpeg::planning {
namespace {

using planner::Question;
using planner::Tables;

/// The best of one pilot is looked for with so many nodes; where their margin is no part of the
/// least, among so many choices.
constexpr std::uint64_t nodes_a_pilot = 20'000;
constexpr double choices_a_pilot = 4'000;

/// How one pilot stands at best.
struct Best {
    double margin_db;
    spectrum::Standing standing;
};

std::optional<spectrum::Standing> standing_of(const Tables& tables, const planner::Choice& choice,
                                              std::size_t owner) {
    const auto all = tables.standings(choice);
    for (std::size_t i = 0; i < all.size(); ++i)
        if (tables.viewers()[i].owner == owner) return all[i];
    return std::nullopt;
}

bool counts(const Tables& tables, std::size_t owner) {
    for (std::size_t i = 0; i < tables.viewers().size(); ++i)
        if (tables.viewers()[i].owner == owner) return tables.counts(i);
    return false;
}

double choices_in(const Tables& tables) {
    double count = 1;
    for (const auto& allowed : tables.question().allowed)
        count *= static_cast<double>(allowed.channels.size() * allowed.powers.size());
    return count;
}

/// Looks at one pilot after the other.
class Alone {
public:
    Alone(const PlanScene& scene, Question question, double margin_db, planner::Effort effort)
        : scene_(scene),
          question_(std::move(question)),
          margin_db_(margin_db),
          effort_(std::move(effort)) {
        question_.apart.clear();
        question_.together.clear();
        question_.groups = 1;
        effort_.nodes_max = std::min(effort_.nodes_max, nodes_a_pilot);
        effort_.progress = [](const planner::Outcome&) {};
        for (std::size_t t = 0; t < scene.seats().size(); ++t)
            if (scene.seats()[t].is_planned)
                planned_[scene.seats()[t].owner].push_back(t);
            else
                always_.push_back(t);
    }

    std::vector<v1::RotaAside> all() {
        std::vector<v1::RotaAside> found;
        see_who_always_is_on(found);
        for (const auto& [pilot, transmitters] : planned_) {
            if (effort_.stop()) break;
            if (auto aside = see(pilot, transmitters)) found.push_back(*std::move(aside));
        }
        return found;
    }

private:
    /// Whoever is on whichever group flies and does not reach it by themselves.
    void see_who_always_is_on(std::vector<v1::RotaAside>& found) {
        question_.unasked = scene_.down();
        if (always_.empty()) return;
        const Tables tables(only(question_, always_));
        planner::Choice choice;
        for (std::size_t t = 0; t < always_.size(); ++t)
            choice.push_back(*tables.pick(t, tables.question().allowed[t].channels.front(),
                                          tables.question().allowed[t].powers.front()));
        const auto standings = tables.standings(choice);
        for (std::size_t i = 0; i < standings.size(); ++i) {
            if (planned_.contains(scene_.owner(tables.viewers()[i]))) continue;  // not all of it
            if (standings[i] && tables.is_wronged(i, *standings[i]))
                question_.unasked.push_back(tables.viewers()[i].owner);  // as it is
            if (!standings[i] || !tables.counts(i)) continue;
            const double margin_db = tables.margin(*standings[i]).count();
            if (margin_db >= margin_db_) continue;
            auto aside =
                aside_of(scene_.owner(tables.viewers()[i]), Best{margin_db, *standings[i]});
            aside.set_is_always(true);
            found.push_back(std::move(aside));
            question_.unasked.push_back(tables.viewers()[i].owner);
        }
    }

    std::optional<v1::RotaAside> see(const std::string& pilot,
                                     const std::vector<std::size_t>& transmitters) const {
        const auto owner = scene_.number_of(pilot);
        auto with_always = transmitters;
        with_always.insert(with_always.end(), always_.begin(), always_.end());
        const Tables beside(only(question_, with_always));
        if (!is_refuted(beside, owner)) return std::nullopt;
        auto nobody_else_asked = beside.question();
        for (const auto& viewer : beside.viewers())
            if (viewer.owner != owner) nobody_else_asked.unasked.push_back(viewer.owner);
        auto by_itself = only(question_, transmitters);
        by_itself.beside.clear();
        const auto reaches = [&](const std::optional<Best>& best) {
            return !best || best->margin_db >= margin_db_;
        };
        const auto at_best = best(Tables(nobody_else_asked), owner);
        auto aside = aside_of(pilot, at_best);
        if (reaches(at_best))
            aside.set_why(v1::RotaAside::harms_always);
        else if (reaches(best(Tables(by_itself), owner)))
            aside.set_why(v1::RotaAside::beside_always);
        add_names(aside, transmitters);
        return aside;
    }

    /// Whether it is proved that a pilot cannot reach it beside what always is on, or not without
    /// taking it from whoever that is.
    bool is_refuted(const Tables& tables, std::size_t owner) const {
        const auto found =
            planner::choice_reaching(tables.problem(), tables.reckon(), margin_db_, effort_);
        if (found.best && found.worst_db >= margin_db_) {
            if (counts(tables, owner) || choices_in(tables) > choices_a_pilot) return false;
            const auto at_best = best(tables, owner);  // its margin is no part of the least
            return at_best && at_best->margin_db < margin_db_;
        }
        return found.bound_db <= margin_db_;
    }

    /// How a pilot stands at best; none if nobody looks.
    std::optional<Best> best(const Tables& tables, std::size_t owner) const {
        const auto reckon = [&](const planner::Choice& choice) {
            const auto standing = standing_of(tables, choice, owner);
            return standing ? tables.margin(*standing).count() : -INFINITY;
        };
        const bool by_trial = !counts(tables, owner) && choices_in(tables) <= choices_a_pilot;
        const auto found = by_trial
                               ? planner::every_choice(tables.problem(), reckon)
                               : planner::best_choice(tables.problem(), tables.reckon(), effort_);
        if (!found.best) return std::nullopt;
        const auto standing = standing_of(tables, *found.best, owner);
        if (!standing) return std::nullopt;
        return Best{tables.margin(*standing).count(), *standing};
    }

    v1::RotaAside aside_of(const std::string& pilot, const std::optional<Best>& best) const {
        v1::RotaAside aside;
        aside.set_pilot(pilot);
        if (!best) return aside;
        aside.set_margin_db(day::milli(best->margin_db));
        const auto& s = best->standing;
        aside.set_why(s.reach_good.count() >= margin_db_ ? v1::RotaAside::too_close
                                                         : v1::RotaAside::range);
        return aside;
    }
    void add_names(v1::RotaAside& aside, const std::vector<std::size_t>& transmitters) const {
        for (const auto t : transmitters) {
            const auto& seat = scene_.seats()[t];
            aside.add_transmitters(seat.name);
            if (!seat.held || seat.stays) continue;
            auto& held = *aside.add_held();
            held.set_transmitter(seat.name);
            *held.mutable_channel() = seat.held->channel();
            held.set_group(seat.held->group());
        }
        if (aside.why() != v1::RotaAside::beside_always &&
            aside.why() != v1::RotaAside::harms_always)
            return;
        for (const auto t : always_) aside.add_beside(scene_.seats()[t].name);
        for (std::size_t b = 0; b < question_.beside.size(); ++b)
            if (!question_.beside[b].follows)
                aside.add_beside(scene_.name(scene_.seats().size() + b));
    }

    const PlanScene& scene_;
    Question question_;
    double margin_db_;
    planner::Effort effort_;
    std::map<std::string, std::vector<std::size_t>> planned_;  ///< [pilot]
    std::vector<std::size_t> always_;
};

}  // namespace

std::vector<v1::RotaAside> asides(const PlanScene& scene, const Question& question,
                                  double margin_db, const planner::Effort& effort) {
    return Alone(scene, question, margin_db, effort).all();
}

Question asked_of_the_rest(Question question, const PlanScene& scene,
                           const std::vector<v1::RotaAside>& asides) {
    question.unasked = scene.down();
    for (const auto& aside : asides) question.unasked.push_back(scene.number_of(aside.pilot()));
    return question;
}

}  // namespace fieldpeg::planning
