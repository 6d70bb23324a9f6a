#pragma once

#include <google/protobuf/message.h>

#include <string>

/// The vocabulary as JSON: the JSON mapping of Protobuf with the names of the proto.
namespace fieldpeg::v1 {

struct JsonLayout {
    bool on_lines;    ///< one value a line, for people; else all on one line
    bool with_zeros;  ///< what is zero, false or empty is there too; what does not exist never is
};

/// Requires that all texts in it are UTF-8.
std::string json_text(const google::protobuf::Message& message, JsonLayout layout);

/// The other way. False: it is none. What the library says of it holds parts of it, and is not for
/// anybody's log.
bool read_json(const std::string& text, google::protobuf::Message& into);

}  // namespace fieldpeg::v1
