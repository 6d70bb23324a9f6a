#pragma once

#include "server/day/assessment.h"

#include "fieldpeg/v1/assessment.pb.h"

#include <compare>
#include <map>
#include <set>
#include <string>
#include <vector>

/// Who is worse off after a change, and whether that is harm: the one place that says so, whoever
/// asks (claim, on, assign, relay check, warnings, change-over).
namespace fieldpeg::day {

/// A margin that moves by less than this is not a change.
inline constexpr spectrum::Decibel change_hysteresis{1};

/// How a picture stood before a change and stands after it.
struct Change {
    spectrum::Standing before;
    spectrum::Standing after;

    /// What is refused for somebody else's sake (spectrum::harms).
    bool is_harm() const { return spectrum::harms(before, after); }
    /// Whether it costs enough to be felt.
    bool is_felt() const { return before.good - after.good >= change_hysteresis; }
    /// What its pilot is warned of: felt, and another word, another picture, or harm.
    bool is_worse() const;
    /// The same by what others cost alone: as if it had been at the range of afterwards before.
    /// Who moves too far away has only themself to blame.
    Change at_the_range_after() const;
};

/// What names a link from one moment of a day to another.
struct LinkName {
    std::string owner;
    std::string relay;
    std::string hears;

    auto operator<=>(const LinkName&) const = default;
};

/// How an aircraft could be steered before a change and after it.
struct ControlChange {
    spectrum::ControlStanding before;
    spectrum::ControlStanding after;

    /// It was not at risk before: before every picture.
    bool is_harm() const {
        return after.word == spectrum::ControlWord::at_risk &&
               before.word != spectrum::ControlWord::at_risk;
    }
};

/// Adds harms of another flight: of one receiver the worse stays; control first, then who is left
/// worst off.
void add_harms(std::vector<v1::Harm> from, std::vector<v1::Harm>& into);

/// How everybody stands at one moment; who has no picture is not in it.
struct Standings {
    std::map<std::string, spectrum::ControlStanding> controls;  ///< by pilot
    std::map<std::string, spectrum::Standing> pilots;           ///< by name
    std::map<LinkName, spectrum::Standing> links;
};
Standings standings(const Assessment& assessment);
Standings standings(const v1::DaySheet& sheet, v1::Basis::Kind basis, Memory& memory);
Standings standings(const v1::DaySheet& sheet, v1::Basis::Kind basis);

/// The same day before and after a change. Refers to the assessment.
class Comparison {
public:
    using Names = std::set<std::string>;

    struct OfPilot {
        const v1::Pilot* pilot;
        Change change;
    };
    struct OfLink {
        const Link* link;
        Change change;
    };
    struct OfControl {
        const v1::Pilot* pilot;
        ControlChange change;
    };

    Comparison(const Standings& before, const Assessment& after);

    /// Everybody who has a picture before and after, in the order of the day.
    const std::vector<OfPilot>& pilots() const { return pilots_; }
    const std::vector<OfLink>& links() const { return links_; }
    /// Everybody of whose control something is known before and after.
    const std::vector<OfControl>& controls() const { return controls_; }

    /// Who is harmed but for `exempt`: whose control is at risk, then those left worst off.
    std::vector<v1::Harm> harms(const Names& exempt) const;
    /// The links harmed of which no pilot's picture is, though it is one that was there: no harm,
    /// but its pilot may want to know.
    std::vector<v1::Harm> links_lost(const Names& exempt) const;
    /// A link's change as a message.
    v1::Harm message(const OfLink& of) const;

private:
    v1::Harm message(const OfPilot& of) const;
    v1::Harm message(const OfControl& of) const;
    v1::Harm message(const v1::Pilot& pilot, const Change& change,
                     std::optional<std::size_t> receiver) const;

    const Assessment& after_;
    std::vector<OfPilot> pilots_;
    std::vector<OfLink> links_;
    std::vector<OfControl> controls_;
};

}  // namespace fieldpeg::day
