#pragma once

#include "tests/simulation/clockwork.h"

#include <cstddef>
#include <cstdint>
#include <functional>
#include <map>
#include <memory>
#include <string>
#include <vector>

namespace fieldpeg::simulation {

/// One connection. Bytes arrive in order, late, in pieces, or not at all once it is cut.
struct Cable {
    /// One end: what it hears. Whoever leaves an end clears it.
    struct End {
        std::function<void(const std::string&)> arrived;
        std::function<void()> lost;
        std::int64_t last_ms = 0;     ///< when the last bytes to it arrive
        std::size_t on_the_way = 0;   ///< pieces to it
        std::function<void()> taken;  ///< at the other end: bytes to this one have arrived
    };
    std::uint64_t number = 0;
    bool is_cut = false;
    End server;
    End client;
};

/// Connections differ in how slow they are, so what is said over several comes in any order.
class Network {
public:
    Network(Clockwork& clockwork, Chance& chance) : clockwork_(clockwork), chance_(chance) {}

    std::shared_ptr<Cable> cable();
    void send(const std::shared_ptr<Cable>& cable, Cable::End Cable::*to, const std::string& bytes);
    /// Nothing arrives any more. Each end notices, soon or late.
    void cut(const std::shared_ptr<Cable>& cable);
    /// The server hangs up: the client has what was sent before.
    void end(const std::shared_ptr<Cable>& cable);
    void cut_all();
    /// One that is not cut; null: there is none.
    std::shared_ptr<Cable> any();

    /// Deliberate: pieces overtake each other.
    bool mixes_up = false;

private:
    void notice(const std::shared_ptr<Cable>& cable, Cable::End Cable::*at, std::int64_t wait_ms);
    void deliver(const std::shared_ptr<Cable>& cable, Cable::End Cable::*to, std::string bytes);
    std::int64_t delay_ms();
    std::vector<std::shared_ptr<Cable>> uncut();

    Clockwork& clockwork_;
    Chance& chance_;
    std::uint64_t last_ = 0;
    std::map<std::uint64_t, std::weak_ptr<Cable>> cables_;
};

}  // namespace fieldpeg::simulation
