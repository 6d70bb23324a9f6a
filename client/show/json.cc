#include "client/show/json.h"

#include "fieldpeg/v1/json.h"

namespace fieldpeg::show {

std::string json_text(const google::protobuf::Message& reply) {
    return v1::json_text(reply, {.on_lines = true, .with_zeros = true});
}

std::string json_line(const google::protobuf::Message& reply) {
    return v1::json_text(reply, {.on_lines = false, .with_zeros = true});
}

}  // namespace fieldpeg::show
