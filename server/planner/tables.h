#pragma once

#include "server/planner/problem.h"
#include "server/planner/search.h"
#include "server/spectrum/link.h"
#include "server/spectrum/rejection_table.h"
#include "server/spectrum/scene.h"
#include "server/spectrum/units.h"
#include "server/spectrum/verdict.h"

#include <cstddef>
#include <cstdint>
#include <map>
#include <memory>
#include <optional>
#include <utility>
#include <vector>

namespace fieldpeg::planner {

/// What may be chosen for one transmitter. One channel and one power: it stays as it is.
struct Allowed {
    std::vector<spectrum::Hertz> channels;
    std::vector<spectrum::Dbm> powers;
    std::uint64_t groups = ~std::uint64_t{0};  ///< flight groups it may fly in
};

/// Which margin a plan is to raise.
enum class Accept {
    steady,  ///< the smaller of both geometries
    tight,   ///< that of the reference geometry alone
};

/// What is asked: who stands where with what, and what may be chosen.
struct Question {
    spectrum::Scene scene;         ///< frequencies and powers in it do not matter
    std::vector<Allowed> allowed;  ///< for each transmitter
    Accept accept = Accept::steady;
    std::size_t groups = 1;
    /// Transmitters that are on whatever group flies; only fewest_groups() minds them.
    std::vector<std::size_t> in_every_group = {};
    /// Transmitters never, or always, in one flight group.
    std::vector<std::pair<std::size_t, std::size_t>> apart = {};
    std::vector<std::pair<std::size_t, std::size_t>> together = {};
};

/// The question as if a transmitter, and who hears it, were not there.
Question without(const Question& question, std::size_t transmitter);
/// The question as if it were alone.
Question only(const Question& question, std::size_t transmitter);

/// A picture that somebody is to see: one transmitter and all who hear it as one link.
struct Link {
    std::size_t transmitter;
    std::vector<std::size_t> receivers;
};

/// A scene as tables for the search, and the way back. [ours: docs/model.md, section 9]
///
/// The tables leave out nothing and share with the plain margin function only curves and link
/// gains; `reckon` asks that function (spectrum::assess), and the search trusts only this.
class Tables {
public:
    explicit Tables(Question question);

    const Problem& problem() const { return problem_; }
    const Question& question() const { return question_; }
    const std::vector<Link>& links() const { return links_; }
    /// Which link a goal of the problem belongs to: one goal for each geometry that counts.
    std::size_t link_of_goal(std::size_t goal) const {
        return goal / (question_.accept == Accept::tight ? 1 : 2);
    }

    spectrum::Hertz channel(const Pick& pick) const;
    spectrum::Dbm power(std::size_t transmitter, const Pick& pick) const;
    /// The pick of a channel and power; none if they are not allowed.
    std::optional<Pick> pick(std::size_t transmitter, spectrum::Hertz channel, spectrum::Dbm power,
                             std::size_t group = 0) const;

    /// The scene with those of a group as chosen and nobody else.
    spectrum::Scene scene(const Choice& choice, std::size_t group = 0) const;
    /// How each link stands in its group, by the plain margin function.
    std::vector<spectrum::Standing> standings(const Choice& choice) const;
    /// A link's margin as the plan counts it.
    spectrum::Decibel margin(const spectrum::Standing& standing) const;
    /// The worst of them, for the search.
    double reckon(const Choice& choice) const;
    Reckon reckon() const {
        return [this](const Choice& choice) { return reckon(choice); };
    }

private:
    void sort_channels();
    void make_tables();
    void add_stations();
    void add_profiles();
    void add_ears(const std::vector<spectrum::LinkTable>& by_band);
    void add_made(const std::vector<spectrum::LinkTable>& by_band);
    spectrum::LinkTable links_in_band(std::size_t band) const;
    const spectrum::LinkTable& gains(const Choice& choice, std::size_t group,
                                     const spectrum::Scene& scene) const;

    Question question_;
    std::vector<Link> links_;
    std::vector<std::vector<spectrum::Hertz>> channels_;  ///< [band]
    std::shared_ptr<spectrum::RejectionTables> rejection_;
    Problem problem_;
    /// Link gains of groups met of late, by who is in and on which band.
    mutable std::map<std::vector<std::size_t>, spectrum::LinkTable> gains_;
};

}  // namespace fieldpeg::planner
