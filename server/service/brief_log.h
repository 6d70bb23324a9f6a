#pragma once

#include <spdlog/sinks/sink.h>

#include <memory>

namespace fieldpeg::service {

/// So many lines of one level are written in a second; how many more there were is said before the
/// next one that is.
inline constexpr int lines_a_second = 20;

/// Writes into another sink, and not more than that: whatever happens a thousand times a second
/// does not fill the disk, nor hide the rest.
spdlog::sink_ptr brief(spdlog::sink_ptr into);

}  // namespace fieldpeg::service
