#pragma once

#include <google/protobuf/message.h>

#include <string>

namespace fieldpeg::board {

/// A message as the page reads it: the JSON mapping of Protobuf with the names of the proto; what
/// is zero is left out, for the air is shared.
std::string json(const google::protobuf::Message& message);

/// The other way. False: it is none. What the library says of it holds parts of it, and is not for
/// anybody's log.
bool read_json(const std::string& text, google::protobuf::Message& into);

}  // namespace fieldpeg::board
