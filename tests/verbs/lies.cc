#include "tests/verbs/lies.h"

#include <google/protobuf/descriptor.h>

namespace fieldpeg::testing {
namespace {

using google::protobuf::FieldDescriptor;
using google::protobuf::Message;

constexpr int deepest = 7;

/// What a command or a query asks for, by the name of its field.
std::string asked(const Message& ask) {
    const auto* one = ask.GetReflection()->GetOneofFieldDescriptor(
        ask, ask.GetDescriptor()->FindOneofByName("ask"));
    return one ? one->name() : "";
}

std::string kind_of_reply(const std::string& command) {
    if (command == "claim") return "claim";
    if (command == "on" || command == "off") return "switched";
    if (command == "assign") return "assigned";
    if (command == "sweep") return "swept";
    if (command == "call_group") return "group";
    if (command == "take_day") return "take";
    if (command == "renew_ticket") return "ticket";
    return "done";
}

/// The part of a response that answers a request, by its kind.
Message& part_for(const v1::Request& request, v1::Response& response) {
    Message& whole = request.has_command() ? static_cast<Message&>(*response.mutable_reply())
                                           : static_cast<Message&>(*response.mutable_answer());
    const auto kind = request.has_command() ? kind_of_reply(asked(request.command()))
                      : request.query().has_bare_relay_check() ? "relay_check"
                                                               : asked(request.query());
    return *whole.GetReflection()->MutableMessage(&whole,
                                                  whole.GetDescriptor()->FindFieldByName(kind));
}

}  // namespace

v1::Response Lies::empty(const v1::Request& request) {
    v1::Response response;
    response.set_id(request.id());
    part_for(request, response);
    return response;
}

v1::Response Lies::about(const v1::Request& request) {
    auto response = empty(request);
    fill(part_for(request, response));
    if (request.has_query()) response.mutable_answer()->set_version(7);
    if (!request.has_command()) return response;
    response.mutable_reply()->set_version(7);
    if (random_() % 2 != 0) response.mutable_reply()->add_call_out(one_of(texts));
    return response;
}

// NOLINTNEXTLINE(misc-no-recursion): as deep as it is told to go
void Lies::fill(Message& message, int deep) {
    const auto* type = message.GetDescriptor();
    std::vector<int> of_each(static_cast<std::size_t>(type->oneof_decl_count()), -1);
    for (int i = 0; i < type->oneof_decl_count(); ++i)
        of_each[static_cast<std::size_t>(i)] =
            static_cast<int>(random_() % static_cast<unsigned>(type->oneof_decl(i)->field_count()));
    for (int i = 0; i < type->field_count(); ++i) {
        const auto& field = *type->field(i);
        if (const auto* one = field.real_containing_oneof())
            if (one->field(of_each[static_cast<std::size_t>(one->index())]) != &field) continue;
        if (field.has_presence() && field.real_containing_oneof() == nullptr && random_() % 4 == 0)
            continue;
        const auto times = field.is_repeated() ? random_() % 4 : 1;
        for (unsigned time = 0; time < times; ++time) put(message, field, deep);
    }
}

// NOLINTNEXTLINE(misc-no-recursion): as deep as it is told to go
void Lies::put(Message& message, const FieldDescriptor& field, int deep) {
    const auto* access = message.GetReflection();
    const auto set = [&](auto single, auto repeated, auto value) {
        if (field.is_repeated())
            (access->*repeated)(&message, &field, value);
        else
            (access->*single)(&message, &field, value);
    };
    using R = google::protobuf::Reflection;
    switch (field.cpp_type()) {
        case FieldDescriptor::CPPTYPE_STRING:
            if (field.type() == FieldDescriptor::TYPE_STRING)
                set(&R::SetString, &R::AddString, one_of(texts));
            return;
        case FieldDescriptor::CPPTYPE_DOUBLE:
            return set(&R::SetDouble, &R::AddDouble, one_of(numbers));
        case FieldDescriptor::CPPTYPE_FLOAT:
            return set(&R::SetFloat, &R::AddFloat, static_cast<float>(one_of(numbers)));
        case FieldDescriptor::CPPTYPE_INT32:
            return set(&R::SetInt32, &R::AddInt32, static_cast<std::int32_t>(random_() % 5) - 2);
        case FieldDescriptor::CPPTYPE_INT64:
            return set(&R::SetInt64, &R::AddInt64, one_of(times_ms));
        case FieldDescriptor::CPPTYPE_UINT32:
            return set(&R::SetUInt32, &R::AddUInt32,
                       random_() % 8 == 0 ? UINT32_MAX : static_cast<std::uint32_t>(random_() % 4));
        case FieldDescriptor::CPPTYPE_UINT64:
            return set(&R::SetUInt64, &R::AddUInt64,
                       random_() % 8 == 0 ? UINT64_MAX : random_() % 4);
        case FieldDescriptor::CPPTYPE_BOOL:
            return set(&R::SetBool, &R::AddBool, random_() % 2 == 0);
        case FieldDescriptor::CPPTYPE_ENUM:
            return set(&R::SetEnumValue, &R::AddEnumValue,
                       static_cast<int>(random_() % 12) - (random_() % 20 == 0 ? 1000 : 0));
        case FieldDescriptor::CPPTYPE_MESSAGE:
            if (deep >= deepest) return;
            fill(field.is_repeated() ? *access->AddMessage(&message, &field)
                                     : *access->MutableMessage(&message, &field),
                 deep + 1);
            return;
    }
}

}  // namespace fieldpeg::testing
