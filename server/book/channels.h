#pragma once

#include "fieldpeg/v1/gear.pb.h"

#include <optional>
#include <string>
#include <string_view>
#include <vector>

namespace fieldpeg::book {

/// Between these a channel's centre may lie.
inline constexpr double channel_mhz_min = 100;
inline constexpr double channel_mhz_max = 10'000;
/// Channels are told apart down to one kilohertz.
inline constexpr double channel_steps_per_mhz = 1000;

/// Between these the distances of a relay check without a day may lie, and the neighbour's range.
inline constexpr double distance_m_min = 0.1;
inline constexpr double distance_m_max = 20'000;
inline constexpr double range_m_min = 40;
inline constexpr double range_m_max = 50'000;

/// Reads channels as people write them: `R3`, `5806`, `5.806GHz`, `5806MHz`; in lists also `R1-R8`.
class ChannelNames {
public:
    template <class Rows>
    explicit ChannelNames(const Rows& rows) : rows_(rows.begin(), rows.end()) {}

    /// None if it is no channel; then `why` says why.
    std::optional<v1::Channel> read(std::string_view written, std::string& why) const;
    /// The same for an entry of a list, which may be a range of one row.
    std::vector<v1::Channel> read_range(std::string_view written, std::string& why) const;
    /// A frequency as a channel called by its MHz.
    static v1::Channel by_mhz(double mhz);

private:
    const v1::ChannelRow* row(char letter) const;

    std::vector<v1::ChannelRow> rows_;
};

/// Reads a power as people write one: `25mW`, `0.6W`, `14dBm`; a bare number is mW. In dBm; none
/// if it is no power or an absurd one.
std::optional<double> read_power_dbm(std::string_view written, std::string& why);

}  // namespace fieldpeg::book
