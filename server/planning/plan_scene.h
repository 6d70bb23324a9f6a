#pragma once

#include "server/day/scene.h"
#include "server/planner/few_moves.h"
#include "server/planner/rota.h"
#include "server/planner/tables.h"
#include "server/refusal/refusal.h"

#include "fieldpeg/v1/day.pb.h"
#include "fieldpeg/v1/plan.pb.h"

#include <cstdint>
#include <optional>
#include <string>
#include <utility>
#include <vector>

namespace fieldpeg::planning {

/// Who is planned for, and how.
struct PlanFor {
    v1::Planned planned;
    bool everybody = true;  ///< where nobody is named; else nobody: what is held stays
    std::optional<std::uint32_t> group = {};  ///< only who holds a channel in it, or in none
    bool in_groups = false;                   ///< everybody planned for is put in a flight group
    double steady_from_db = 0;                ///< what least powers are to reach alone
    std::vector<std::string> aside = {};      ///< pilots who are left out, with what they hold
};

/// A day as a question for the planner, and the way back. The planner knows numbers only.
///
/// What may be chosen for a transmitter: the channels that its receivers can be tuned to; the power
/// it holds, else the least at which its owner's picture is steady with nobody else on the air, or
/// any where powers are to be chosen. What radiates, sightings, and whoever is not planned for stay
/// as they are and count. Remarks of the rule set order what is equal, and nothing else.
class PlanScene {
public:
    /// A transmitter of the question.
    struct Seat {
        std::string name;
        std::string owner;                        ///< empty: a sighting
        bool is_planned;                          ///< false: it only counts
        bool stays;                               ///< on the channel that it holds
        bool least_power;                         ///< it is to have the least that is steady
        std::vector<v1::Channel> channels;        ///< beside what is allowed in the question
        std::vector<spectrum::Hertz> unremarked;  ///< of these those with the fewest remarks
        std::optional<v1::Claim> held;
    };

    /// Refuses names that the day does not know, and whoever has no channel to choose from.
    static Result<PlanScene> make(const v1::DaySheet& sheet, const PlanFor& what);

    const planner::Question& question() const { return question_; }
    /// A question as it would be with the unremarked channels alone; none: all are.
    std::optional<planner::Question> preferred(const planner::Question& question) const;
    /// Has pairs of those planned for fly in one flight group, or never in one. Refuses a name that
    /// is not planned for.
    std::optional<Refusal> keep(const google::protobuf::RepeatedPtrField<v1::NamePair>&,
                                bool together);
    const std::vector<Seat>& seats() const { return seats_; }
    /// Whose picture a viewer's is.
    const std::string& owner(const spectrum::Viewer& viewer) const {
        return sheet_.pilots(static_cast<int>(viewer.owner)).name();
    }
    std::optional<std::size_t> seat(const std::string& name) const;
    /// What a transmitter of the question is called, or of what is beside it.
    const std::string& name(std::size_t transmitter) const;
    /// Number of a pilot among the owners of viewers.
    std::size_t number_of(const std::string& pilot) const;
    /// The least number above the flight groups of all who are not planned for.
    std::uint32_t first_group() const { return first_group_; }
    /// What everybody has of the rota before: channel and group, where the day says so.
    std::vector<planner::InRota> before() const;
    /// Who counts in the size of a flight group: of each owner's transmitters one.
    std::vector<bool> heads() const;
    /// Owners of what is down: it is on whichever group flies, and nobody looks at its picture.
    std::vector<std::size_t> down() const;
    /// The flight groups of the question, where it is planned for several, each as it flies.
    const std::vector<std::uint32_t>& flights() const { return flights_; }
    /// Whether every channel is in the question that somebody can be seen on.
    bool has_every_channel() const { return has_every_channel_; }
    /// What the question takes for granted, in sentences.
    const std::vector<std::string>& said() const { return said_; }
    /// What is held, where the question allows it.
    planner::Holds holds(const planner::Tables& tables) const;

    /// The day with everybody as chosen; in a rota in flight groups of these numbers.
    v1::DaySheet planned_day(const planner::Tables& tables, const planner::Choice& choice,
                             const std::vector<std::uint32_t>& numbers = {}) const;
    /// The shares of those planned for in such a day, with their owners' margins as `check` tells
    /// them.
    std::vector<v1::PlanChoice> choices(const v1::DaySheet& planned_day) const;

private:
    explicit PlanScene(v1::DaySheet sheet) : sheet_(std::move(sheet)) {}

    bool is_aside(const std::string& pilot) const;
    void set_aside(const std::vector<std::string>& pilots);
    void leave_out_other_flights();
    std::optional<std::size_t> flight(const v1::Claim& claim) const;
    void put_into_flights();
    void say_who_is_in_no_flight();
    std::optional<Refusal> choose_who(const PlanFor& what);
    std::optional<Refusal> seat_transmitter(const std::string& name);
    void say_what_fewer_hear(const std::string& name, const std::vector<v1::Channel>& left_out);
    void leave_out_other_groups();
    void add_question();
    Seat seat_of(const day::TransmitterOf& of) const;
    planner::Allowed allowed_in(const Seat& seat, const day::TransmitterOf& of,
                                spectrum::Dbm power);
    void add_moving(const day::TransmitterOf& of);
    void leave_out_what_takes_control();
    void find_unremarked();
    void settle_powers();

    v1::DaySheet sheet_;  ///< with a claim, if only a first guess, for everybody planned for
    std::optional<std::uint32_t> group_;
    std::vector<std::uint32_t> flights_;
    std::uint32_t first_group_ = 1;
    bool in_groups_ = false;
    bool choose_powers_ = false;
    double steady_from_db_ = 0;
    std::vector<std::string> aside_;
    bool has_every_channel_ = true;
    std::vector<std::string> kept_;
    std::vector<Seat> seats_;
    std::vector<std::string> beside_;  ///< names of what is beside the question
    planner::Question question_;
    std::vector<std::string> said_;
};

}  // namespace fieldpeg::planning
