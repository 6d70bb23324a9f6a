#pragma once

#include "server/refusal/refusal.h"

#include "fieldpeg/v1/day.pb.h"
#include "fieldpeg/v1/picture.pb.h"

namespace fieldpeg::day {

/// The dial as one receiver hears it: what arrives of each emission, by its real mask, the
/// receiver's selectivity over it, its noise, and the products that hit it, each as high as it
/// counts. The pilot is one of the day's, by the day's spelling. Refuses one without receivers, and
/// a receiver that hears nothing.
Result<v1::SpectrumPictureReply> spectrum_picture(const v1::DaySheet& sheet,
                                                  const v1::SpectrumPictureQuery& query);

/// What lies deeper under the noise is in no picture, as density or as a whole.
inline constexpr double shown_below_noise_db = 20;

}  // namespace fieldpeg::day
