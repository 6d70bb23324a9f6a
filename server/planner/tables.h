#pragma once

#include "server/planner/problem.h"
#include "server/planner/search.h"
#include "server/spectrum/link.h"
#include "server/spectrum/rejection_table.h"
#include "server/spectrum/scene.h"
#include "server/spectrum/units.h"
#include "server/spectrum/verdict.h"
#include "server/spectrum/viewer.h"

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
    steady,  ///< the smaller of a good flight's and of the closest pass
    tight,   ///< that of a good flight alone
};

/// What radiates beside those that channels are chosen for, in whatever group: it stays on its own
/// frequency, or goes where another is.
struct Beside {
    spectrum::Transmitter transmitter;
    std::optional<std::size_t> follows;  ///< the transmitter on whose channel it is, if that flies
};

/// What is asked: who stands where with what, and what may be chosen.
struct Question {
    spectrum::Scene scene;         ///< frequencies and powers in it do not matter
    std::vector<Allowed> allowed;  ///< for each transmitter
    Accept accept = Accept::steady;
    std::size_t groups = 1;
    /// Transmitters that are on whatever group flies; only in_groups() minds them.
    std::vector<std::size_t> in_every_group = {};
    /// Transmitters never, or always, in one flight group.
    std::vector<std::pair<std::size_t, std::size_t>> apart = {};
    std::vector<std::pair<std::size_t, std::size_t>> together = {};
    /// Copies of those that are on whatever group flies, one for each group but the first: pairs of
    /// copy and original.
    std::vector<std::pair<std::size_t, std::size_t>> copies = {};
    /// Transmitters that move among channels as they like, and those channels: each margin is that
    /// with one of them where it does most harm. The tables know them at home only.
    std::vector<std::pair<std::size_t, std::vector<spectrum::Hertz>>> moving = {};
    /// What the tables know nothing of: it makes bounds weaker, and `reckon` counts it.
    std::vector<Beside> beside = {};
    /// Owners with no good flight even alone who may be made worse off all the same.
    std::vector<std::size_t> may_pay = {};
    /// Owners whose margin is not asked for.
    std::vector<std::size_t> unasked = {};
};

/// The question in so many groups: who is in every group is in the first, and copies at the end of
/// the list in the rest, on its channel.
Question in_groups(const Question& question, std::size_t groups);
/// The question as if a transmitter, and who hears it, were not there.
Question without(const Question& question, std::size_t transmitter);
/// The question as if it were alone.
Question only(const Question& question, std::size_t transmitter);
/// The question as if these were all there are, whatever the groups.
Question only(const Question& question, const std::vector<std::size_t>& transmitters);

/// A scene as tables for the search, and the way back. [ours: docs/model.md, section 9]
///
/// The tables leave out nothing but what makes bounds weaker, and share with the plain margin
/// function only curves and link gains; `reckon` asks that function (spectrum::assess), and the
/// search trusts only this.
///
/// Who has no good flight even with nobody else on the air is no part of the least margin: no
/// channel cures that. Others are to stay without blame for it (spectrum::verdict).
class Tables {
public:
    explicit Tables(Question question);

    const Problem& problem() const { return problem_; }
    const Question& question() const { return question_; }
    /// Everybody who would see a picture with everything on the air.
    const std::vector<spectrum::Viewer>& viewers() const { return viewers_; }
    /// Whether somebody's margin is part of the least.
    bool counts(std::size_t viewer) const { return counts_[viewer]; }
    /// Whether anybody's is.
    bool anybody_counts() const;
    /// Whose goal of the problem it is.
    std::size_t viewer_of_goal(std::size_t goal) const { return viewer_of_goal_[goal]; }

    spectrum::Hertz channel(const Pick& pick) const;
    spectrum::Dbm power(std::size_t transmitter, const Pick& pick) const;
    /// The pick of a channel and power; none if they are not allowed.
    std::optional<Pick> pick(std::size_t transmitter, spectrum::Hertz channel, spectrum::Dbm power,
                             std::size_t group = 0) const;

    /// The scene with those of a group as chosen and nobody else; receivers keep their places.
    spectrum::Scene scene(const Choice& choice, std::size_t group = 0) const;
    /// The same for everywhere that those go who move by themselves; itself comes first.
    std::vector<spectrum::Scene> scenes(const Choice& choice, std::size_t group) const;
    /// Which transmitters of the question those of such a scene are; those beside are counted on
    /// from there.
    std::vector<std::size_t> members(const Choice& choice, std::size_t group = 0) const;
    /// How each viewer stands, by the plain margin function, in the group in which they are worst
    /// off; none if nothing arrives.
    std::vector<std::optional<spectrum::Standing>> standings(const Choice& choice) const;
    /// A margin as the plan counts it.
    spectrum::Decibel margin(const spectrum::Standing& standing) const;
    /// Whether others are to blame for what somebody suffers who does not count, and may not be.
    bool is_wronged(std::size_t viewer, const spectrum::Standing& standing) const;
    /// The worst of those that count, for the search; minus infinite if anybody is wronged.
    double reckon(const Choice& choice) const;
    Reckon reckon() const {
        return [this](const Choice& choice) { return reckon(choice); };
    }

private:
    void sort_channels();
    void make_tables();
    void add_stations();
    std::size_t looks(std::size_t transmitter) const;
    void add_profiles();
    void see_who_counts(const std::vector<spectrum::LinkTable>& by_band);
    void add_goals(const std::vector<spectrum::LinkTable>& by_band);
    void add_made(const std::vector<spectrum::LinkTable>& by_band);
    spectrum::LinkTable links_in_band(std::size_t band) const;
    const spectrum::LinkTable& gains(const Choice& choice, std::size_t group,
                                     const spectrum::Scene& scene) const;
    bool may_pay(std::size_t viewer) const;
    bool is_unasked(std::size_t viewer) const;
    bool is_beside(std::size_t beside, const Choice& choice, std::size_t group) const;
    bool is_on_in_every_group(std::size_t transmitter) const;
    std::optional<std::size_t> instance(std::size_t transmitter, const Choice& choice,
                                        std::size_t group) const;

    Question question_;
    std::vector<spectrum::Viewer> viewers_;
    struct Alone {
        spectrum::Decibel good, usable;
    };
    std::vector<bool> counts_;  ///< [viewer]
    std::vector<Alone> alone_;  ///< [viewer]: the least that nobody else on the air leaves them
    std::vector<std::size_t> viewer_of_goal_;
    std::vector<std::vector<spectrum::Hertz>> channels_;  ///< [band]
    std::shared_ptr<spectrum::RejectionTables> rejection_;
    Problem problem_;
    /// Link gains of groups met of late, by who is in and on which band.
    mutable std::map<std::vector<std::int64_t>, spectrum::LinkTable> gains_;
};

}  // namespace fieldpeg::planner
