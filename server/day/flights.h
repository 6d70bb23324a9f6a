#pragma once

#include "server/day/assessment.h"

#include <cstdint>
#include <memory>
#include <optional>
#include <string_view>
#include <vector>

/// A day with flight groups, group by group: who never flies together never disturbs each other.
namespace fieldpeg::day {

/// The groups of a day, rising; of a day without 0 alone: everybody at once.
std::vector<std::uint32_t> flight_groups(const v1::DaySheet& sheet);

/// The groups with which a claim of `group` flies: its own, or, without one or always on, each of
/// the day, its own claim left out.
std::vector<std::uint32_t> flies_with(const v1::DaySheet& sheet, std::string_view transmitter,
                                      std::uint32_t group, bool always);

/// Which flights are looked at.
struct Asked {
    std::optional<std::uint32_t> group = {};  ///< only this; 0: those without one, by themselves
    bool all_at_once = false;
};

/// A day when each of its groups flies. What is on the air now is one flight, of whatever group.
class Flights {
public:
    Flights(const v1::DaySheet& sheet, v1::Basis::Kind basis, const Asked& asked = {});

    struct Flight {
        Flight(std::uint32_t of, v1::DaySheet as_it_flies, v1::Basis::Kind basis, Memory& memory)
            : group(of), sheet(std::move(as_it_flies)), assessment(sheet, basis, memory) {}

        Plight plight(const v1::Pilot& pilot) const {
            return assessment.at_worst_for(pilot).plight(pilot);
        }

        std::uint32_t group;  ///< 0: everybody at once
        v1::DaySheet sheet;
        Assessment assessment;
    };

    /// Whether a pilot flies in any of them.
    bool has(const v1::Pilot& pilot) const;
    /// The flight in which a pilot is worst off, of those in which they take part.
    const Flight& of(const v1::Pilot& pilot) const;
    const std::vector<std::unique_ptr<Flight>>& all() const { return flights_; }
    /// Whether there are groups.
    bool are_groups() const { return flights_.front()->group != 0; }

private:
    static bool takes_part(const v1::Pilot& pilot, const Flight& flight);

    std::vector<std::unique_ptr<Flight>> flights_;
};

}  // namespace fieldpeg::day
