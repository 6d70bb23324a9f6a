#pragma once

#include <google/protobuf/message.h>

#include <cstdint>
#include <map>
#include <string>

namespace fieldpeg::log {

using Names = std::map<std::uint32_t, std::string>;

/// Puts numbers in the place of names, wherever one stands as a word in a text of the message, so
/// that the hash chain holds no names and one can be removed from the day later.
void take_names(google::protobuf::Message& message, const Names& names);

/// The names back. Exactly what was taken, while the names are the same; "person 7" where there is
/// none any more.
void put_names(google::protobuf::Message& message, const Names& names);

}  // namespace fieldpeg::log
