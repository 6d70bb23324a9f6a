#include "client/show/json.h"

#include <google/protobuf/util/json_util.h>

#include <stdexcept>

namespace fieldpeg::show {

namespace {

std::string printed(const google::protobuf::Message& reply, bool on_lines) {
    google::protobuf::util::JsonPrintOptions options;
    options.add_whitespace = on_lines;
    options.preserve_proto_field_names = true;
    options.always_print_primitive_fields = true;
    std::string text;
    const auto status = google::protobuf::util::MessageToJsonString(reply, &text, options);
    if (!status.ok()) throw std::runtime_error("no JSON: " + std::string(status.message()));
    return text;
}

}  // namespace

std::string json_text(const google::protobuf::Message& reply) {
    return printed(reply, true);
}

std::string json_line(const google::protobuf::Message& reply) {
    return printed(reply, false);
}

}  // namespace fieldpeg::show
