#pragma once

#include "server/refusal/refusal.h"

#include "fieldpeg/v1/assessment.pb.h"
#include "fieldpeg/v1/gear.pb.h"

#include <cstdint>
#include <optional>
#include <string>

/// What is wrong by itself with a value that somebody sent, whether in a question or a command.
namespace fieldpeg::service {

/// What is meant where nobody says what is sent: analogue video.
inline const std::string usual_emission = "fm-video";

/// Flight groups are numbered up to this.
inline constexpr std::uint32_t group_max = 100;

/// A channel or a power outside what the model takes.
std::optional<Refusal> outside_channel(const char* what, const v1::Channel& channel);
std::optional<Refusal> outside_power(const char* what, double power_dbm);

/// What is to be counted; unless it is said otherwise, what is held.
v1::Basis::Kind basis(v1::Basis::Kind asked);

}  // namespace fieldpeg::service
