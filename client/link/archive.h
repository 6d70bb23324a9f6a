#pragma once

#include "server/refusal/refusal.h"

#include "fieldpeg/v1/archive.pb.h"

#include <cstdint>
#include <optional>
#include <string>

/// An archive of days in a database, asked from here: no server has a part in it.
namespace fieldpeg::link {

/// From one moment to another, in ms.
struct ArchiveSpan {
    std::int64_t from_ms = 0, to_ms = 0;
};

Result<v1::ArchivePushed> push(const std::string& log, const std::string& archive);
Result<v1::ArchivedDay> pull(const std::string& day, const std::string& archive,
                             const std::string& to);
/// A day that servers held in the archive's database, and that has ended.
Result<v1::ArchivedDay> archive_close(const std::string& archive, const std::string& day);
Result<v1::ArchiveDays> archive_days(const std::string& archive, ArchiveSpan begun);
Result<v1::ArchiveNearReply> archive_near(const std::string& archive, double mhz, double within_mhz,
                                          ArchiveSpan when, std::uint32_t at_most);
/// Totals of everybody; of one also each flight.
Result<v1::ArchiveFlights> archive_flights(const std::string& archive, const std::string& who,
                                           ArchiveSpan when);
Result<v1::ArchiveChannels> archive_channels(const std::string& archive, ArchiveSpan when);
/// In all days; or in one, if there is one.
Result<v1::ArchiveForgotten> archive_forget(const std::string& archive, const std::string& who,
                                            const std::string& day);
/// None: names are kept from now on.
Result<v1::ArchiveForgotten> archive_expire(const std::string& archive,
                                            std::optional<int> after_years);

}  // namespace fieldpeg::link
