#include "tests/simulation/network.h"

#include "tests/support/random.h"

#include <algorithm>
#include <utility>

namespace fieldpeg::simulation {

using testing::chance;
using testing::whole;

std::shared_ptr<Cable> Network::cable() {
    auto one = std::make_shared<Cable>();
    one->number = ++last_;
    std::erase_if(cables_, [](const auto& old) { return old.second.expired(); });
    cables_[one->number] = one;
    return one;
}

/// Mostly as on a field's Wi-Fi, now and then as at its edge.
std::int64_t Network::delay_ms() {
    return chance(chance_, 4) ? whole(chance_, 200, 4000) : whole(chance_, 1, 40);
}

void Network::send(const std::shared_ptr<Cable>& cable, Cable::End Cable::*to,
                   const std::string& bytes) {
    if (chance(chance_, 85) || bytes.size() < 2 || mixes_up) return deliver(cable, to, bytes);
    const auto first = static_cast<std::size_t>(
        whole(chance_, 1, static_cast<int>(std::min<std::size_t>(bytes.size(), 4096)) - 1));
    deliver(cable, to, bytes.substr(0, first));
    deliver(cable, to, bytes.substr(first));
}

void Network::deliver(const std::shared_ptr<Cable>& cable, Cable::End Cable::*to,
                      std::string bytes) {
    auto& end = (*cable).*to;
    ++end.on_the_way;
    const auto arrives_ms = clockwork_.steady_ms() + delay_ms();
    end.last_ms = mixes_up ? arrives_ms : std::max(end.last_ms, arrives_ms);
    clockwork_.at(end.last_ms, [cable, to, bytes = std::move(bytes)] {
        auto& into = (*cable).*to;
        --into.on_the_way;
        if (cable->is_cut) return;
        if (into.arrived) into.arrived(bytes);
        if (into.taken) into.taken();
    });
}

void Network::notice(const std::shared_ptr<Cable>& cable, Cable::End Cable::*at,
                     std::int64_t wait_ms) {
    clockwork_.after(wait_ms, [cable, at] {
        if (const auto lost = std::exchange(((*cable).*at).lost, nullptr)) lost();
    });
}

void Network::cut(const std::shared_ptr<Cable>& cable) {
    if (std::exchange(cable->is_cut, true)) return;
    for (const auto at : {&Cable::server, &Cable::client})
        notice(cable, at,
               chance(chance_, 80) ? whole(chance_, 0, 300) : whole(chance_, 1000, 30'000));
}

void Network::end(const std::shared_ptr<Cable>& cable) {
    if (cable->is_cut) return;
    const auto last_ms = std::max(cable->client.last_ms, clockwork_.steady_ms());
    notice(cable, &Cable::client, last_ms - clockwork_.steady_ms() + 1);
}

std::vector<std::shared_ptr<Cable>> Network::uncut() {
    std::vector<std::shared_ptr<Cable>> all;
    for (const auto& [number, cable] : cables_)
        if (auto one = cable.lock(); one && !one->is_cut) all.push_back(std::move(one));
    return all;
}

void Network::cut_all() {
    for (const auto& cable : uncut()) cut(cable);
}

std::shared_ptr<Cable> Network::any() {
    const auto all = uncut();
    if (all.empty()) return nullptr;
    return all[static_cast<std::size_t>(whole(chance_, 0, static_cast<int>(all.size()) - 1))];
}

}  // namespace fieldpeg::simulation
