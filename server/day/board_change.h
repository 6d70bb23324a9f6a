#pragma once

#include "fieldpeg/v1/query.pb.h"
#include "fieldpeg/v1/wire.pb.h"

namespace fieldpeg::day {

/// A change as it is told to somebody who has the board `before`: with those rows alone that are
/// others than there. The same change where rows cannot be told apart by their names.
v1::Change since(const v1::BoardReply& before, const v1::Change& change);

}  // namespace fieldpeg::day
