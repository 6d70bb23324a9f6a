#include "client/link/link.h"

#include <chrono>

namespace fieldpeg::link {

std::int64_t local_ms() {
    using namespace std::chrono;
    return duration_cast<milliseconds>(system_clock::now().time_since_epoch()).count();
}

}  // namespace fieldpeg::link
