#pragma once

#include "tests/support/days.h"

#include "fieldpeg/v1/command.pb.h"
#include "fieldpeg/v1/query.pb.h"

#include <google/protobuf/message.h>

#include <string>

/// A day to claim channels on, and what is asked of it.
namespace fieldpeg::testing {

/// A pilot as text_of() writes one, who holds no channel yet.
std::string unclaimed(const PilotText& pilot);
std::string unclaimed(const RelayText& relay);

/// Ann and Bob, four metres apart on the line, fly the circuit; Dee sits in the chair beside the
/// relay "mast". Nobody holds a channel.
std::string club_day();

/// Ten pilots in a row, free on all of 5.8 GHz: more than is proved in a minute under a sanitizer.
std::string crowded_day();

v1::Channel channel(const std::string& name);

v1::Command claim(const std::string& transmitter, const std::string& channel,
                  double power_dbm = 13.98);
v1::Command release(const std::string& transmitter, const std::string& reason = "");
v1::Command on(const std::string& transmitter);
v1::Command off(const std::string& transmitter);
v1::Command nod(const std::string& name);
v1::Command withdraw_key(const std::string& name);
/// A relay that radiates, whoever said yes.
v1::Command on_already(const std::string& transmitter, const std::string& channel,
                       double power_dbm);

v1::Query board();
v1::Query log_of(const std::string& kind);

/// The same message gives the same bytes.
std::string bytes_of(const google::protobuf::Message& message);

}  // namespace fieldpeg::testing
