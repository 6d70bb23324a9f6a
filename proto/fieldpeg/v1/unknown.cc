#include "fieldpeg/v1/unknown.h"

#include <google/protobuf/descriptor.h>
#include <google/protobuf/unknown_field_set.h>

#include <vector>

namespace fieldpeg::v1 {
namespace {

using google::protobuf::FieldDescriptor;
using google::protobuf::Message;

/// Of one field that holds messages, or many.
// NOLINTNEXTLINE(misc-no-recursion): as deep as the messages are nested
bool says_unknown_in(const Message& message, const FieldDescriptor& field) {
    const auto* access = message.GetReflection();
    if (!field.is_repeated()) return says_unknown(access->GetMessage(message, &field));
    for (int i = 0; i < access->FieldSize(message, &field); ++i)
        if (says_unknown(access->GetRepeatedMessage(message, &field, i))) return true;
    return false;
}

}  // namespace

// NOLINTNEXTLINE(misc-no-recursion): as deep as the messages are nested
bool says_unknown(const Message& message) {
    const auto* access = message.GetReflection();
    if (!access->GetUnknownFields(message).empty()) return true;
    std::vector<const FieldDescriptor*> fields;
    access->ListFields(message, &fields);
    for (const auto* field : fields)
        if (field->cpp_type() == FieldDescriptor::CPPTYPE_MESSAGE &&
            says_unknown_in(message, *field))
            return true;
    return false;
}

}  // namespace fieldpeg::v1
