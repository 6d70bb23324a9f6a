#pragma once

#include "server/day/comparison.h"

#include "fieldpeg/v1/command.pb.h"
#include "fieldpeg/v1/day.pb.h"

#include <cstdint>
#include <optional>
#include <string>
#include <vector>

namespace fieldpeg::day {

/// What it does to everybody if one transmitter takes a channel at a power. How everybody stands
/// without it is looked at once, so that many channels can be tried.
class Trial {
public:
    /// What became of it.
    struct Outcome {
        v1::PilotResult own;  ///< of the transmitter's owner
        Plight plight;        ///< theirs
        std::string reason;   ///< what rules the owner's margin
        /// Of a good flight with nobody else on the air, were nothing too close, which no power
        /// cures; none: nobody hears the transmitter. Of several flights the least.
        std::optional<spectrum::Decibel> alone;
        std::optional<spectrum::Decibel>
            alone_sharp;                       ///< the same of a sharp picture in 80 % of it
        std::vector<v1::Harm> harms;           ///< everybody else whom it harms
        std::vector<v1::Harm> links_lost;      ///< that everybody else does not need
        std::optional<double> least_other_db;  ///< the worst margin among everybody else
        std::vector<v1::Remark> remarks;       ///< of the rule set and of services to keep clear of
    };

    /// Of the flights of some groups of a day; the worst of them counts. Requires that the sheet
    /// has `subject`. Without a memory it has one of its own.
    Trial(const v1::DaySheet& sheet, std::uint32_t subject, v1::Basis::Kind basis,
          const std::vector<std::uint32_t>& groups, Memory* memory = nullptr);
    Trial(const Trial&) = delete;
    Trial& operator=(const Trial&) = delete;

    Outcome outcome(const v1::Claim& claim);
    /// Of the same claim in another flight: the worse of both counts.
    static void add(Outcome of, Outcome& to);

private:
    /// One flight.
    class InFlight {
    public:
        InFlight(v1::DaySheet sheet, std::uint32_t subject, v1::Basis::Kind basis);

        Outcome outcome(const v1::Claim& claim, Memory& memory);

    private:
        Standings without(v1::Claim claim, Memory& memory);

        v1::DaySheet sheet_;  ///< with the last claim tried
        std::uint32_t subject_;
        std::string owner_;
        std::string name_;
        v1::Basis::Kind basis_;
        std::optional<Standings> before_;  ///< with the subject silent
    };
    Memory own_;
    Memory& memory_;
    std::vector<InFlight> flights_;
};

/// Whether a pilot is in trouble: shaky, in a clash, or about to lose control.
bool in_trouble(v1::Verdict::Word verdict);

}  // namespace fieldpeg::day
