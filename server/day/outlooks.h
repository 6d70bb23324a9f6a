#pragma once

#include "server/day/assessment.h"

#include <optional>
#include <string>
#include <vector>

/// Whether verdicts hold although half of what they rest on is guessed (docs/model.md, section 15).
namespace fieldpeg::day {

/// What is guessed at one receiver: what its owner or the others declared or measured is not.
spectrum::Guesses guesses(const Assessment& assessment, std::size_t receiver);

/// How far a value of the library may be off, in words: "4 to 8 dB". Empty: that is not counted.
std::string range_text(const v1::ReceiverProfile& receiver, const std::string& key);
std::string range_text(const v1::Antenna& antenna, const std::string& key);
std::string range_text(const v1::Emission& emission, const std::string& key);

/// Of everybody at one moment. Refers to the assessment.
class Outlooks {
public:
    explicit Outlooks(const Assessment& assessment);

    /// None if the pilot sees nothing.
    std::optional<v1::Outlook> of(const v1::Pilot& pilot) const;

private:
    const Assessment& assessment_;
    std::vector<std::optional<spectrum::Doubt>> doubts_;
};

}  // namespace fieldpeg::day
