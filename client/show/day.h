#pragma once

#include "client/show/look.h"

#include "fieldpeg/v1/command.pb.h"
#include "fieldpeg/v1/query.pb.h"

#include <cstdint>
#include <string>

/// The day as it goes on, as text for people.
namespace fieldpeg::show {

std::string board_text(const v1::BoardReply& board, std::int64_t now_ms, const Look& look);
/// Who waits to be called, in order.
std::string line_text(const v1::BoardReply& board, std::int64_t now_ms, const Look& look);
/// The flight groups: who is in each, and whose turn it is.
std::string groups_text(const v1::BoardReply& board, std::int64_t now_ms, const Look& look);
/// What a group's call came to.
std::string group_text(const v1::GroupReply& reply, std::int64_t now_ms, const Look& look);
/// Who is still on, down, or holds a channel as the day ends.
std::string day_end_text(const v1::BoardReply& board, std::int64_t now_ms, const Look& look);
std::string claim_text(const v1::ClaimReply& reply, const Look& look);
std::string switch_text(const v1::SwitchReply& reply, std::int64_t now_ms, const Look& look);
/// What a command came to, of whatever kind: a claim, a switch, or a sentence.
std::string reply_text(const v1::Reply& reply, std::int64_t now_ms, const Look& look);
std::string log_standing_text(const v1::LogReply& reply, const Look& look);
std::string log_text(const v1::LogReply& reply, const Look& look);
/// Comma-separated values [RFC4180], times in UTC.
std::string log_csv(const v1::LogReply& reply);
/// One JSON object a line.
std::string log_json_lines(const v1::LogReply& reply);
/// Who could have hit whom at a moment: the contributions, then and as it is believed now.
std::string near_text(const v1::NearReply& reply, const Look& look);
/// What a corrected day file has otherwise, and what follows from taking it over.
std::string take_text(const v1::TakeReply& reply, const Look& look);
std::string people_text(const v1::DayReply& reply, const Look& look);
std::string field_text(const v1::DayReply& reply, const Look& look);
std::string ready_text(const v1::ReadyReply& reply, const Look& look);

}  // namespace fieldpeg::show
