#pragma once

#include "server/spectrum/scene.h"

#include <string_view>

namespace fieldpeg::testing {

/// One of the gear library, as the radio model takes it. Fails the program if there is none.
spectrum::Emission emission(std::string_view name);
spectrum::ReceiverProfile receiver(std::string_view name);
spectrum::AntennaPattern antenna(std::string_view name);

}  // namespace fieldpeg::testing
