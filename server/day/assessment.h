#pragma once

#include "server/day/memory.h"
#include "server/day/scene.h"
#include "server/spectrum/contributions.h"
#include "server/spectrum/control.h"
#include "server/spectrum/guesses.h"
#include "server/spectrum/link.h"
#include "server/spectrum/margin.h"
#include "server/spectrum/verdict.h"
#include "server/spectrum/viewer.h"

#include "fieldpeg/v1/assessment.pb.h"
#include "fieldpeg/v1/day.pb.h"

#include <memory>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

namespace fieldpeg::day {

/// The name and version of the radio model whose numbers these are.
inline constexpr std::string_view model_name = "fieldpeg radio model 2";

/// One transmitter and the receivers that one person or relay has for it: together they show the
/// picture.
struct Link {
    std::string owner;  ///< the pilot
    std::string relay;  ///< whose receivers these are; empty: the pilot's
    std::string hears;
    std::vector<std::size_t> receivers;
};

/// Shares of the flight with a picture.
struct Shares {
    double with_others;
    double alone;  ///< nobody else on the air
    double sharp;
};

/// Link gains of a moment, to pictures and to controls.
struct Gains {
    Gains(const spectrum::Scene& scene, spectrum::LinkMemory& memory)
        : pictures(scene, memory), controls(scene, memory) {}

    spectrum::LinkTable pictures;
    spectrum::ControlLinks controls;
};

/// How badly off a pilot is, in the order in which it matters: control before pictures, what others
/// do before what the range does, verdicts before margins.
struct Plight {
    bool loses_control = false;
    bool is_disturbed = false;
    spectrum::Verdict verdict = spectrum::Verdict::steady;
    spectrum::Decibel lack{0};  ///< below a good flight

    auto operator<=>(const Plight&) const = default;
};

/// One moment of a day, assessed: the situation and how everybody stands in it.
class Assessment {
public:
    Assessment(const v1::DaySheet& sheet, v1::Basis::Kind basis, Memory& memory);
    Assessment(const v1::DaySheet& sheet, v1::Basis::Kind basis, Memory&& of_its_own = {})
        : Assessment(sheet, basis, of_its_own) {}
    ~Assessment();
    Assessment(const Assessment&) = delete;
    Assessment& operator=(const Assessment&) = delete;

    const v1::DaySheet& sheet() const { return sheet_; }
    const Situation& situation() const { return situation_; }
    v1::Basis::Kind basis() const { return basis_; }

    /// None if what it hears is not on the air.
    const std::optional<spectrum::Reception>& reception(std::size_t receiver) const {
        return receptions_[receiver];
    }
    /// This moment, and what becomes of it as those who move by themselves do so, one at a time.
    std::vector<const Assessment*> moments() const;
    /// The same moment as it is worst for a pilot: with those who move by themselves where they
    /// do it most harm. Receivers and transmitters have the same numbers in it.
    const Assessment& at_worst_for(const v1::Pilot& pilot) const;
    /// At this very moment.
    Plight plight(const v1::Pilot& pilot) const;

    std::optional<spectrum::Standing> standing(std::size_t receiver) const;
    /// Of all its receivers together.
    std::optional<spectrum::Standing> standing(const Link& link) const;
    /// Of all the ways by which a pilot sees a picture, at this very moment; none if nothing
    /// arrives.
    std::optional<spectrum::Standing> standing(const v1::Pilot& pilot) const;
    /// Margin at sharp in a usable flight with nobody else on the air, were nothing too close.
    std::optional<spectrum::Decibel> reach_sharp(const v1::Pilot& pilot) const;
    std::optional<Shares> shares(std::size_t receiver) const;
    std::optional<Shares> shares(const v1::Pilot& pilot) const;

    /// How an aircraft can be steered; none if nothing is known of that, or it does not fly.
    std::optional<spectrum::ControlStanding> control(const v1::Pilot& pilot) const;

    /// Every link of the day, whether what it hears is there or not.
    const std::vector<Link>& day_links() const { return day_links_; }
    /// The receiver that does most for a link's picture; none if nothing arrives.
    std::optional<std::size_t> shown_by(const Link& link) const;
    /// The receiver on which a pilot's picture hangs: that of the weakest hop of the best way.
    std::optional<std::size_t> ruling_receiver(const v1::Pilot& pilot) const;

    std::vector<spectrum::Contribution> contributions(std::size_t receiver,
                                                      spectrum::Geometry geometry,
                                                      std::size_t most) const;
    std::vector<spectrum::FrontEndSignal> front_end_signals(std::size_t receiver,
                                                            spectrum::Geometry geometry,
                                                            std::size_t most) const;
    /// How each receiver's margins may be off, by what is guessed at each.
    std::vector<std::optional<spectrum::Doubt>> doubts(
        const std::vector<spectrum::Guesses>& guesses) const;
    /// What a pilot's picture may be; none if nothing arrives.
    std::optional<spectrum::Outlook> outlook(
        const v1::Pilot& pilot, const std::vector<std::optional<spectrum::Doubt>>& doubts) const;

    const Gains& gains() const { return gains_; }
    const spectrum::LinkTable& links() const { return gains_.pictures; }
    /// What rules a receiver that has others to complain of, as a relay's power limit would call
    /// it.
    v1::PowerWindow::Kind trouble(std::size_t receiver) const;

private:
    struct Elsewhere;

    void look_elsewhere(Memory& memory);
    const spectrum::Viewer* viewer(const v1::Pilot& pilot) const;
    std::optional<std::size_t> shown_by(const std::vector<std::size_t>& receivers) const;

    const v1::DaySheet& sheet_;
    v1::Basis::Kind basis_;
    Situation situation_;
    Gains gains_;
    std::shared_ptr<spectrum::RejectionTables> tables_;  ///< fill as they are asked
    spectrum::Receptions receptions_;
    std::vector<spectrum::Viewer> viewers_;
    std::vector<spectrum::ControlStanding> controls_;
    std::vector<Link> day_links_;
    std::vector<std::unique_ptr<Elsewhere>> elsewhere_;
};

}  // namespace fieldpeg::day
