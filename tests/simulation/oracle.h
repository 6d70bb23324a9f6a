#pragma once

#include "server/log/day_log.h"
#include "server/service/keeper.h"
#include "tests/simulation/unsure_disk.h"

#include "fieldpeg/v1/wire.pb.h"

#include <cstdint>
#include <map>
#include <memory>
#include <set>
#include <stdexcept>
#include <string>
#include <vector>

namespace fieldpeg::simulation {

/// A promise was broken, and which.
struct Broken : std::runtime_error {
    using std::runtime_error::runtime_error;
};

/// Who is on what, of one version.
struct Air {
    struct One {
        double mhz = 0;
        v1::Claim::Stage stage = v1::Claim::unknown;
    };
    std::map<std::string, One> transmitters;
    std::set<std::uint32_t> sightings;
};

/// Looks on, and holds everybody to what was promised. It reads the log by itself, folds it by
/// itself, and remembers what each client was told.
class Oracle {
public:
    Oracle(UnsureDisk& disk, std::string log_path);
    ~Oracle();
    Oracle(const Oracle&) = delete;
    Oracle& operator=(const Oracle&) = delete;

    /// The server has started, anew or for the first time.
    void started(const service::Keeper& keeper);
    /// The server has ended, or is about to.
    void ended() { reader_.reset(); }
    /// After each step: what the server takes for so is what the log says.
    void look(const service::Keeper& keeper);

    /// A client has got a frame; of its answers, those are fresh that were asked for once.
    void heard(int client, const v1::ServerFrame& frame, bool is_fresh);
    /// A client has got a reply to its command, by its key.
    void replied(const std::string& key, const v1::Command& command, const v1::Reply& reply);
    void sent(const std::string& key) { ++sends_[key]; }
    /// The server said that it could not record what it was asked.
    int refused_yet_kept() const { return refused_yet_kept_; }

    /// At the end: every yes is there, once.
    void settle(service::Keeper& keeper, std::int64_t now_ms);

    /// By the log, as far as it was seen.
    const v1::DayState& day() const { return fold_; }
    std::size_t yeses() const { return yeses_.size(); }

private:
    struct Yes {
        v1::Command command;
        std::vector<v1::Reply> replies;
    };

    void read_on(std::uint64_t up_to);
    v1::Event take(const log::Entry& entry);
    void compare(const service::Keeper& keeper) const;
    void expect_what_was_there() const;
    void expect_answers_kept();
    void expect_kept_again(service::Keeper& keeper, const log::Answered& kept, std::int64_t now_ms);
    void expect_true(const std::string& key, const v1::Command& command,
                     const v1::Reply& reply) const;
    void expect_alike(const std::string& key, const Yes& yes, const v1::Reply& kept) const;
    void told(int client, std::map<int, std::uint64_t>& last, std::uint64_t version,
              const char* what);

    UnsureDisk& disk_;
    std::string path_;
    std::unique_ptr<log::DayLog> reader_;
    v1::DayState fold_;
    std::vector<std::string> hashes_;  ///< of each version from 1
    std::map<std::uint64_t, Air> air_;
    std::map<std::string, std::vector<std::uint64_t>> marks_;  ///< and in which versions each is
    std::map<std::string, Yes> yeses_;
    std::map<std::string, int> sends_;
    std::set<std::string> unrecorded_;  ///< keys of what could not be recorded, it was said
    int refused_yet_kept_ = 0;
    std::map<int, std::uint64_t> last_said_, last_change_;  ///< to each client
};

}  // namespace fieldpeg::simulation
