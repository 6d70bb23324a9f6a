#include "fieldpeg/v1/numbers.h"

#include <google/protobuf/descriptor.h>
#include <google/protobuf/reflection.h>

#include <cmath>
#include <vector>

namespace fieldpeg::v1 {
namespace {

using google::protobuf::FieldDescriptor;
using google::protobuf::Message;

bool is_plain(double value) {
    return std::abs(value) <= number_max;  // no NaN is
}

bool is_plain_one(const Message& message, const FieldDescriptor& field) {
    const auto* access = message.GetReflection();
    switch (field.cpp_type()) {
        case FieldDescriptor::CPPTYPE_DOUBLE:
            return is_plain(access->GetDouble(message, &field));
        case FieldDescriptor::CPPTYPE_FLOAT:
            return is_plain(double{access->GetFloat(message, &field)});
        case FieldDescriptor::CPPTYPE_INT64:
            return is_time_ms(access->GetInt64(message, &field));
        case FieldDescriptor::CPPTYPE_MESSAGE:
            return are_numbers_plain(access->GetMessage(message, &field));
        default:
            return true;
    }
}

bool is_plain_at(const Message& message, const FieldDescriptor& field, int at) {
    const auto* access = message.GetReflection();
    switch (field.cpp_type()) {
        case FieldDescriptor::CPPTYPE_DOUBLE:
            return is_plain(access->GetRepeatedDouble(message, &field, at));
        case FieldDescriptor::CPPTYPE_FLOAT:
            return is_plain(double{access->GetRepeatedFloat(message, &field, at)});
        case FieldDescriptor::CPPTYPE_INT64:
            return is_time_ms(access->GetRepeatedInt64(message, &field, at));
        case FieldDescriptor::CPPTYPE_MESSAGE:
            return are_numbers_plain(access->GetRepeatedMessage(message, &field, at));
        default:
            return true;
    }
}

}  // namespace

// NOLINTNEXTLINE(misc-no-recursion): as deep as the vocabulary nests, which the parser bounds
bool are_numbers_plain(const Message& message) {
    const auto* access = message.GetReflection();
    std::vector<const FieldDescriptor*> there;
    access->ListFields(message, &there);
    for (const auto* field : there) {
        if (!field->is_repeated()) {
            if (!is_plain_one(message, *field)) return false;
            continue;
        }
        for (int i = 0; i < access->FieldSize(message, field); ++i)
            if (!is_plain_at(message, *field, i)) return false;
    }
    return true;
}

}  // namespace fieldpeg::v1
