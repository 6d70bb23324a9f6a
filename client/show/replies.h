#pragma once

#include "client/show/look.h"

#include "fieldpeg/v1/assessment.pb.h"

#include <string>

/// Replies as text for people, one function a reply.
namespace fieldpeg::show {

/// In short: what fits a terminal of 100 columns, without the receivers.
std::string check_text(const v1::CheckReply& reply, const Look& look, bool in_short = false);
std::string explain_text(const v1::ExplainReply& reply, const Look& look);
std::string find_text(const v1::FindReply& reply, const Look& look);
std::string reach_text(const v1::ReachReply& reply, const Look& look);
std::string relay_check_text(const v1::RelayCheckReply& reply, const Look& look);
std::string channels_text(const v1::ChannelsReply& reply, const Look& look);
/// Who is in no clash but may be, should a guess be off: the pilot of that name, and those at whose
/// receiver that transmitter is the strongest disturber. On what it rests, how to find out; empty:
/// nobody.
std::string doubts_text(const v1::CheckReply& reply, const std::string& transmitter,
                        const Look& look);
/// Kits, a line each; or, of one, what it brings.
std::string kits_text(const v1::Library& library, const Look& look);
/// Everything in the library, a line each; or, of one definition, every value with its provenance.
std::string gear_list_text(const v1::Library& library, const Look& look);
std::string gear_text(const v1::Library& found, const Look& look);

}  // namespace fieldpeg::show
