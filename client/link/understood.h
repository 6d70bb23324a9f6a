#pragma once

#include "fieldpeg/v1/command.pb.h"
#include "fieldpeg/v1/query.pb.h"
#include "fieldpeg/v1/wire.pb.h"

#include <google/protobuf/message.h>

#include <string_view>

/// What comes from outside, a server or a log, before anything is made of it: all that is shown,
/// printed or written to a file has been here.
namespace fieldpeg::link {

inline constexpr std::string_view not_understood = "what the server says is not understood";

/// Every text in a message as it may be printed (book::printable). False: it has a number that no
/// field ever has, or none at all.
bool made_fit(google::protobuf::Message& message);

/// Whether it answers what was asked, says of which version of the day, and has what whoever asks
/// relies on.
bool is_understood(const v1::Query& query, const v1::Answer& answer);
bool is_understood(const v1::Command& command, const v1::Reply& reply);
bool is_understood(const v1::Change& change);

}  // namespace fieldpeg::link
