#include "server/wire/version.h"

namespace fieldpeg::wire {

std::string server_program() {
    return "fieldpegd " FIELDPEG_VERSION;
}

std::string client_program() {
    return "fieldpeg " FIELDPEG_VERSION;
}

}  // namespace fieldpeg::wire
