#pragma once

#include "client/show/look.h"

#include "fieldpeg/v1/assessment.pb.h"
#include "fieldpeg/v1/picture.pb.h"
#include "fieldpeg/v1/query.pb.h"

#include <string>

/// The dial in a few lines of text: who sits where, and where products fall.
namespace fieldpeg::show {

/// Everybody who holds a channel, by what they do there; a strip a band. Empty if nobody does.
std::string board_strip(const v1::BoardReply& board, const Look& look);

/// Everybody who is counted, and under the scale the products that count at some receiver.
std::string check_strip(const v1::CheckReply& reply, const Look& look);

/// What one receiver hears: all that arrives on its band, and the products that count. One strip.
std::string spectrum_strip(const v1::SpectrumPictureReply& reply, const Look& look);

}  // namespace fieldpeg::show
