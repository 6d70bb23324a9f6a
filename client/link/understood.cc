#include "client/link/understood.h"

#include "server/book/names.h"

#include "fieldpeg/v1/numbers.h"

#include <google/protobuf/descriptor.h>
#include <google/protobuf/reflection.h>

#include <algorithm>
#include <cmath>
#include <cstdint>
#include <string>
#include <vector>

namespace fieldpeg::link {
namespace {

using google::protobuf::FieldDescriptor;
using google::protobuf::Message;

/// More than any frequency, distance, level or time on a field.
constexpr double number_max = 1e7;

/// What is laid out in lines: a kit as it is written, and all that is wrong with a file.
bool has_lines(const FieldDescriptor& field) {
    return field.name() == "toml" || field.full_name() == "fieldpeg.v1.Refusal.why";
}

std::string fit_text(const FieldDescriptor& field, const std::string& text) {
    if (!has_lines(field)) return book::visible(text);
    std::string all;
    for (std::size_t at = 0; at <= text.size();) {
        const auto end = std::min(text.find('\n', at), text.size());
        all += (at == 0 ? "" : "\n") + book::visible(std::string_view(text).substr(at, end - at));
        at = end + 1;
    }
    return all;
}

bool is_fit(double number) {
    return std::abs(number) <= number_max;  // what is no number is not
}

bool make_value_fit(Message& message, const FieldDescriptor& field) {
    const auto* access = message.GetReflection();
    switch (field.cpp_type()) {
        case FieldDescriptor::CPPTYPE_STRING:
            if (field.type() == FieldDescriptor::TYPE_STRING)
                access->SetString(&message, &field,
                                  fit_text(field, access->GetString(message, &field)));
            return true;
        case FieldDescriptor::CPPTYPE_DOUBLE:
            return is_fit(access->GetDouble(message, &field));
        case FieldDescriptor::CPPTYPE_FLOAT:
            return is_fit(double{access->GetFloat(message, &field)});
        case FieldDescriptor::CPPTYPE_INT64:
            return v1::is_time_ms(access->GetInt64(message, &field));
        case FieldDescriptor::CPPTYPE_MESSAGE:
            return made_fit(*access->MutableMessage(&message, &field));
        default:
            return true;
    }
}

bool make_values_fit(Message& message, const FieldDescriptor& field) {
    const auto* access = message.GetReflection();
    bool fit = true;
    for (int i = 0; i < access->FieldSize(message, &field); ++i) {
        switch (field.cpp_type()) {
            case FieldDescriptor::CPPTYPE_STRING:
                if (field.type() == FieldDescriptor::TYPE_STRING)
                    access->SetRepeatedString(
                        &message, &field, i,
                        fit_text(field, access->GetRepeatedString(message, &field, i)));
                break;
            case FieldDescriptor::CPPTYPE_DOUBLE:
                fit = fit && is_fit(access->GetRepeatedDouble(message, &field, i));
                break;
            case FieldDescriptor::CPPTYPE_FLOAT:
                fit = fit && is_fit(double{access->GetRepeatedFloat(message, &field, i)});
                break;
            case FieldDescriptor::CPPTYPE_INT64:
                fit = fit && v1::is_time_ms(access->GetRepeatedInt64(message, &field, i));
                break;
            case FieldDescriptor::CPPTYPE_MESSAGE:
                fit = made_fit(*access->MutableRepeatedMessage(&message, &field, i)) && fit;
                break;
            default:
                break;
        }
    }
    return fit;
}

/// What is asked, by its name; empty if nothing is.
std::string asked(const Message& ask) {
    const auto* one = ask.GetReflection()->GetOneofFieldDescriptor(
        ask, ask.GetDescriptor()->FindOneofByName("ask"));
    return one ? one->name() : "";
}

bool has(const Message& message, const std::string& field) {
    const auto* one = message.GetDescriptor()->FindFieldByName(field);
    return one != nullptr && message.GetReflection()->HasField(message, one);
}

/// To each sentence the warning that it is about.
bool is_whole(const v1::BoardReply& board) {
    return board.version() != 0 && board.call_out_size() == board.untold_size();
}

/// As many lines for each receiver.
bool is_whole(const v1::ReachReply& reach) {
    return !reach.receivers().empty() &&
           std::ranges::all_of(reach.receivers(), [&](const v1::ReachReceiver& r) {
               return r.by_bearing_size() == reach.receivers(0).by_bearing_size() &&
                      r.by_height_size() == reach.receivers(0).by_height_size();
           });
}

/// Of products the transmitters that make them, which are told by their place.
bool is_whole(const v1::ExplainReply& explain) {
    return std::ranges::all_of(explain.receivers(), [](const v1::ReceiverExplained& r) {
        return std::ranges::all_of(r.fifth_order(),
                                   [](const v1::FifthOrder& f) { return f.from_size() == 2; });
    });
}

bool is_whole(const v1::ChannelsReply& channels) {
    return std::ranges::all_of(channels.hits(), [](const v1::ChannelHit& hit) {
        return hit.from_size() == 2 || hit.from_size() == 3;
    });
}

/// A yes is never what is only not a no.
bool is_whole(const v1::SwitchReply& switched) {
    return switched.has_refusal() || (switched.answer() != v1::SwitchReply::unknown &&
                                      v1::SwitchReply::Answer_IsValid(switched.answer()));
}

bool is_whole(const v1::ClaimReply& claim) {
    return claim.has_channel() || claim.has_refusal();
}

}  // namespace

// NOLINTNEXTLINE(misc-no-recursion): as deep as the messages are nested
bool made_fit(Message& message) {
    std::vector<const FieldDescriptor*> fields;
    message.GetReflection()->ListFields(message, &fields);
    bool fit = true;
    for (const auto* field : fields)
        fit = (field->is_repeated() ? make_values_fit(message, *field)
                                    : make_value_fit(message, *field)) &&
              fit;
    return fit;
}

bool is_understood(const v1::Query& query, const v1::Answer& answer) {
    if (answer.has_refusal()) return true;
    const auto kind = query.has_bare_relay_check() ? "relay_check" : asked(query);
    if (!has(answer, kind) || answer.version() == 0) return false;
    if (answer.has_board()) return is_whole(answer.board());
    if (answer.has_explain()) return is_whole(answer.explain());
    if (answer.has_reach()) return is_whole(answer.reach());
    if (answer.has_channels()) return is_whole(answer.channels());
    return true;
}

bool is_understood(const v1::Command& command, const v1::Reply& reply) {
    if (reply.has_refusal()) return true;
    if (reply.version() == 0) return false;
    switch (command.ask_case()) {
        case v1::Command::kClaim:
            return reply.has_claim() && is_whole(reply.claim());
        case v1::Command::kOn:
        case v1::Command::kOff:
            return reply.has_switched() ? is_whole(reply.switched()) : !reply.done().text().empty();
        case v1::Command::kAssign:
            return reply.has_assigned();
        case v1::Command::kSweep:
            return reply.has_swept();
        case v1::Command::kCallGroup:
            return reply.has_group();
        case v1::Command::kTakeDay:
            return reply.has_take();
        case v1::Command::kRenewTicket:
            return !reply.ticket().ticket().empty();
        default:
            return !reply.done().text().empty();
    }
}

bool is_understood(const v1::Change& change) {
    return is_whole(change.board());
}

}  // namespace fieldpeg::link
