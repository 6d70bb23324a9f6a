#pragma once

#include "server/spectrum/result.h"

#include "fieldpeg/v1/gear.pb.h"

#include <optional>
#include <string>

/// What is wrong by itself with a value that somebody sent, whether in a question or a command.
namespace fieldpeg::service {

/// What is meant where nobody says what is sent: analogue video.
inline const std::string usual_emission = "fm-video";

/// A number outside its range; a NaN always is.
std::optional<spectrum::Refusal> outside(const char* what, double value, double low, double high);
std::optional<spectrum::Refusal> outside_channel(const char* what, const v1::Channel& channel);
std::optional<spectrum::Refusal> outside_power(const char* what, double power_dbm);

}  // namespace fieldpeg::service
