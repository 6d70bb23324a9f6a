#pragma once

#include <google/protobuf/message.h>

#include <string>

namespace fieldpeg::show {

/// A reply as JSON: field names as in the proto, no field left out because it is zero or false;
/// what does not exist is absent.
std::string json_text(const google::protobuf::Message& reply);
/// The same on one line.
std::string json_line(const google::protobuf::Message& reply);

}  // namespace fieldpeg::show
