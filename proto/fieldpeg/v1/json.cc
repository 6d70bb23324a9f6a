#include "fieldpeg/v1/json.h"

#include <google/protobuf/util/json_util.h>

#include <stdexcept>

namespace fieldpeg::v1 {

std::string json_text(const google::protobuf::Message& message, JsonLayout layout) {
    google::protobuf::util::JsonPrintOptions options;
    options.add_whitespace = layout.on_lines;
    options.preserve_proto_field_names = true;
    options.always_print_primitive_fields = layout.with_zeros;
    std::string text;
    const auto status = google::protobuf::util::MessageToJsonString(message, &text, options);
    if (!status.ok()) throw std::runtime_error("no JSON: " + std::string(status.message()));
    return text;
}

bool read_json(const std::string& text, google::protobuf::Message& into) {
    return google::protobuf::util::JsonStringToMessage(text, &into).ok();
}

}  // namespace fieldpeg::v1
