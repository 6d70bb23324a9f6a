#pragma once

#include <string>

namespace fieldpeg::wire {

/// As each end says what it is: "fieldpegd 0.3.0", "fieldpeg 0.3.0".
std::string server_program();
std::string client_program();

}  // namespace fieldpeg::wire
