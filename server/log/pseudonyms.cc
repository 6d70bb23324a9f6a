#include "server/log/pseudonyms.h"

#include <google/protobuf/descriptor.h>
#include <google/protobuf/reflection.h>

#include <algorithm>
#include <cctype>
#include <charconv>
#include <functional>
#include <vector>

namespace fieldpeg::log {
namespace {

using google::protobuf::FieldDescriptor;
using google::protobuf::Message;

// Nothing that people write has these: control characters are refused wherever texts come in.
constexpr char opens = '\x02';
constexpr char closes = '\x03';

using Rewrite = std::function<std::string(const std::string&)>;

void rewrite_field(Message& message, const FieldDescriptor& field, const Rewrite& rewrite) {
    const auto* access = message.GetReflection();
    const int count = field.is_repeated() ? access->FieldSize(message, &field) : 1;
    for (int i = 0; i < count; ++i) {
        if (!field.is_repeated())
            access->SetString(&message, &field, rewrite(access->GetString(message, &field)));
        else
            access->SetRepeatedString(&message, &field, i,
                                      rewrite(access->GetRepeatedString(message, &field, i)));
    }
}

// NOLINTNEXTLINE(misc-no-recursion): as deep as the messages are nested
void rewrite_texts(Message& message, const Rewrite& rewrite) {
    std::vector<const FieldDescriptor*> fields;
    const auto* access = message.GetReflection();
    access->ListFields(message, &fields);
    for (const auto* field : fields) {
        if (field->type() == FieldDescriptor::TYPE_STRING) rewrite_field(message, *field, rewrite);
        if (field->cpp_type() != FieldDescriptor::CPPTYPE_MESSAGE) continue;
        if (!field->is_repeated()) {
            rewrite_texts(*access->MutableMessage(&message, field), rewrite);
            continue;
        }
        for (int i = 0; i < access->FieldSize(message, field); ++i)
            rewrite_texts(*access->MutableRepeatedMessage(&message, field, i), rewrite);
    }
}

bool is_word(char c) {
    const auto byte = static_cast<unsigned char>(c);
    return byte >= 0x80 || std::isalnum(byte) || c == '-' || c == '_';
}

/// Whether the part of a text from `at`, `size` long, is no piece of a longer word.
bool stands_alone(const std::string& text, std::size_t at, std::size_t size) {
    const bool before = at > 0 && is_word(text[at - 1]) && is_word(text[at]);
    const auto end = at + size;
    const bool after = end < text.size() && is_word(text[end]) && is_word(text[end - 1]);
    return !before && !after;
}

std::string without_names(const std::string& text,
                          const std::vector<std::pair<std::string, std::uint32_t>>& names) {
    std::string out;
    for (std::size_t at = 0; at < text.size();) {
        const auto found = std::ranges::find_if(names, [&](const auto& one) {
            return text.compare(at, one.first.size(), one.first) == 0 &&
                   stands_alone(text, at, one.first.size());
        });
        if (found == names.end()) {
            out += text[at++];
            continue;
        }
        out += opens + std::to_string(found->second) + closes;
        at += found->first.size();
    }
    return out;
}

std::string with_names(const std::string& text, const Names& names) {
    std::string out;
    for (std::size_t at = 0; at < text.size();) {
        const auto end = text[at] == opens ? text.find(closes, at) : std::string::npos;
        if (end == std::string::npos) {
            out += text[at++];
            continue;
        }
        std::uint32_t id = 0;
        std::from_chars(text.data() + at + 1, text.data() + end, id);
        const auto name = names.find(id);
        out += name == names.end() ? "person " + std::to_string(id) : name->second;
        at = end + 1;
    }
    return out;
}

}  // namespace

void take_names(Message& message, const Names& names) {
    std::vector<std::pair<std::string, std::uint32_t>> longest_first;
    for (const auto& [id, name] : names)
        if (!name.empty()) longest_first.emplace_back(name, id);
    std::ranges::stable_sort(longest_first, [](const auto& a, const auto& b) {
        return a.first.size() > b.first.size();
    });
    rewrite_texts(message,
                  [&](const std::string& text) { return without_names(text, longest_first); });
}

void put_names(Message& message, const Names& names) {
    rewrite_texts(message, [&](const std::string& text) { return with_names(text, names); });
}

}  // namespace fieldpeg::log
