#pragma once

#include "tests/simulation/clockwork.h"
#include "tests/simulation/host.h"
#include "tests/simulation/network.h"
#include "tests/simulation/oracle.h"

#include "fieldpeg/v1/event.pb.h"

#include <cstdint>
#include <deque>
#include <map>
#include <string>
#include <string_view>
#include <utility>

namespace fieldpeg::simulation {

/// Something that is wrong on purpose, to see whether it is noticed.
enum class Fault {
    none,
    lying_disk,         ///< says that it has synced, and has not
    new_key_each_time,  ///< a client sends again, but as something new
    mixed_up,           ///< the network changes the order within a connection
    missed_change,      ///< a watcher's phone drops some of what it is told
};

/// What happened, in numbers.
struct Tally {
    struct Asked {
        int yes = 0;
        int no = 0;
        int unknown = 0;  ///< nothing came back
    };
    std::map<std::string, Asked> commands;
    int steps = 0, kills = 0, power_cuts = 0, stops = 0, failed_starts = 0, failed_calls = 0,
        full_disks = 0, jumps = 0, cut_cables = 0, connections = 0, refused_entrances = 0,
        sent_again = 0, changes = 0, boards_compared = 0, clients = 0, versions = 0,
        refused_yet_kept = 0;

    void add(const Tally& other);
};

/// What was done, step by step: its hash is the same whenever the same is done.
class Trace {
public:
    /// Where the files are is another place each time, and is left out.
    explicit Trace(std::string folder) : folder_(std::move(folder)) {}

    void note(std::int64_t at_ms, std::string line);
    std::uint64_t hash() const { return hash_; }
    std::string last_steps() const;

private:
    static constexpr std::size_t kept = 40;

    std::string folder_;
    std::uint64_t hash_ = 14695981039346656037ULL;
    std::deque<std::string> last_;
};

/// What everybody in a run shares.
struct World {
    Chance& chance;
    Clockwork& clockwork;
    Network& network;
    Host& host;
    Oracle& oracle;
    Tally& tally;
    Trace& trace;
    Fault fault = Fault::none;
    bool is_calm = false;  ///< nobody asks for anything
    /// Tickets as they are good now, for a role or one pilot.
    std::map<std::pair<v1::Role::Kind, std::string>, std::string> tickets = {};

    void note(std::string line) { trace.note(clockwork.steady_ms(), std::move(line)); }
};

}  // namespace fieldpeg::simulation
