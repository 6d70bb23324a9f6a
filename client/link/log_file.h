#pragma once

#include "server/service/inspection.h"

/// A day's log by itself, whether or not its day can be opened.
namespace fieldpeg::link {

using service::salvage;
using service::verified;

}  // namespace fieldpeg::link
