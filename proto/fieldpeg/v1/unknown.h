#pragma once

#include <google/protobuf/message.h>

namespace fieldpeg::v1 {

/// Whether a message says anything, however deep, for which the program has no word: somebody of
/// another version sent it. What it says cannot be passed over where it is to be done.
bool says_unknown(const google::protobuf::Message& message);

}  // namespace fieldpeg::v1
