#include "server/board/json.h"

#include <google/protobuf/util/json_util.h>

#include <stdexcept>

namespace fieldpeg::board {

std::string json(const google::protobuf::Message& message) {
    google::protobuf::util::JsonPrintOptions options;
    options.preserve_proto_field_names = true;
    std::string text;
    const auto status = google::protobuf::util::MessageToJsonString(message, &text, options);
    if (!status.ok()) throw std::runtime_error("no JSON: " + std::string(status.message()));
    return text;
}

bool read_json(const std::string& text, google::protobuf::Message& into) {
    return google::protobuf::util::JsonStringToMessage(text, &into).ok();
}

}  // namespace fieldpeg::board
