#pragma once

#include "client/show/look.h"

#include "fieldpeg/v1/query.pb.h"

#include <string>

/// Who was in the air when, in local time.
namespace fieldpeg::show {

/// Every flight, the totals, and how many were in the air at once at most; or the totals alone.
std::string flights_text(const v1::AirtimeReply& reply, const Look& look);
std::string flight_totals_text(const v1::AirtimeReply& reply, const Look& look);
/// The same as comma-separated values [RFC4180]: flights or totals, never both in one table.
std::string flights_csv(const v1::AirtimeReply& reply);
std::string flight_totals_csv(const v1::AirtimeReply& reply);

/// "7.5".
std::string minutes_text(double minutes);
/// "4 in the air at once at most, from 14:32:05: Ann, Ben, Cyd, Dora"; empty: nobody flew.
std::string most_at_once_text(const v1::AirtimeReply& reply);
/// "Ann", or "mast of Otto".
std::string flown_text(const std::string& pilot, const std::string& relay);

}  // namespace fieldpeg::show
