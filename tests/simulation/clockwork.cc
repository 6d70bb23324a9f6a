#include "tests/simulation/clockwork.h"

#include <algorithm>

namespace fieldpeg::simulation {
namespace {

const Clockwork* the_only = nullptr;

Clockwork::Time simulated() {
    return the_only->steady();
}

}  // namespace

Clockwork::Clockwork() {
    the_only = this;
    service::SteadyTime::source = simulated;
}

Clockwork::~Clockwork() {
    service::SteadyTime::source = &std::chrono::steady_clock::now;
    the_only = nullptr;
}

void Clockwork::at(std::int64_t steady_ms, Happening happening) {
    happenings_.emplace(std::pair(std::max(steady_ms, now_ms_), ++last_), std::move(happening));
}

bool Clockwork::next() {
    if (happenings_.empty()) return false;
    auto first = happenings_.extract(happenings_.begin());
    now_ms_ = first.key().first;
    first.mapped()();
    return true;
}

}  // namespace fieldpeg::simulation
