#pragma once

#include "fieldpeg/v1/picture.pb.h"

#include <string>

/// Pictures of a day as SVG. What they show and where it stands is in the replies; here it is only
/// drawn.
namespace fieldpeg::show {

/// What to ask for, that a picture can be read on a phone.
inline v1::Paper phone_paper() {
    v1::Paper paper;
    paper.set_width(360);
    paper.set_text_size(13);
    return paper;
}

/// The dial as one receiver hears it.
std::string spectrum_picture(const v1::SpectrumPictureReply& reply);

/// The whole field, and where people stand.
std::string field_picture(const v1::FieldPictureReply& reply);

/// How far a pilot's picture carries, from above and from the side.
std::string reach_picture(const v1::ReachPictureReply& reply);

/// Who was on which frequency, times as this machine's clock shows them.
std::string timeline_picture(const v1::TimelinePictureReply& reply);

}  // namespace fieldpeg::show
