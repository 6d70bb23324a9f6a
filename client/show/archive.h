#pragma once

#include "client/show/look.h"

#include "fieldpeg/v1/archive.pb.h"

#include <string>

/// What an archive of days answers, for people and, as comma-separated values [RFC4180], for
/// spreadsheets; there with times of the local clock.
namespace fieldpeg::show {

std::string pushed_text(const v1::ArchivePushed& reply);
std::string days_text(const v1::ArchiveDays& reply, const Look& look);
std::string days_csv(const v1::ArchiveDays& reply);
std::string archive_near_text(const v1::ArchiveNearReply& reply, const Look& look);
std::string archive_near_csv(const v1::ArchiveNearReply& reply);
std::string archive_flights_text(const v1::ArchiveFlights& reply, const Look& look);
std::string archive_flights_csv(const v1::ArchiveFlights& reply);
std::string channels_used_text(const v1::ArchiveChannels& reply, const Look& look);
std::string channels_used_csv(const v1::ArchiveChannels& reply);

}  // namespace fieldpeg::show
