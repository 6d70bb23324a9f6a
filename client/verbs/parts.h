#pragma once

#include "client/verbs/verb.h"
#include "server/book/writer.h"

#include <optional>
#include <string>
#include <string_view>
#include <vector>

/// Parts of a day from the command line, as the TOML that the service reads.
namespace fieldpeg::verbs {

/// The keys of a transmitter as they were said.
struct TransmitterFlags {
    std::string emission, antenna, polarisation;
    std::vector<std::string> powers, channels;

    bool is_silent() const {
        return emission.empty() && antenna.empty() && polarisation.empty() && powers.empty() &&
               channels.empty();
    }
};
void add_transmitter_flags(Verb& verb, TransmitterFlags& flags);
/// What is usual where nothing is said.
TransmitterFlags with_defaults(TransmitterFlags flags);
/// As a day file has it; none if a power is none, which is said.
std::optional<book::TransmitterText> transmitter_text(const TransmitterFlags& flags);

/// rhcp for a circular antenna unless something was said; vertical otherwise.
std::string polarisation_of(const std::string& antenna, const std::string& said);

/// "2026-09-19", of a day that there is.
bool is_date(const std::string& written);

/// "52.04512,-1.2034", degrees north and east as a map tells them; none if it is no such thing,
/// which is said.
std::optional<book::MapPoint> position_argument(std::string_view flag, const std::string& written);

/// A whole file, "-" being standard input; none if it cannot be read, which is said.
std::optional<std::string> read_text(const std::string& path);

/// Sends parts and prints what became of it. With `only_new` nobody among them may be known.
int put(const Common& common, const std::string& toml, const std::string& file,
        bool only_new = false);
int put(const Common& common, const Result<std::string>& toml, bool only_new = false);

}  // namespace fieldpeg::verbs
