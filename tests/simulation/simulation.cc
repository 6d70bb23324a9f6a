#include "tests/simulation/simulation.h"

#include "tests/simulation/commands.h"
#include "tests/simulation/device.h"
#include "tests/support/pegs.h"
#include "tests/support/random.h"
#include "tests/support/temporary.h"

#include <fmt/format.h>

#include <array>
#include <memory>
#include <vector>

namespace fieldpeg::simulation {
namespace {

using testing::chance;
using testing::whole;

constexpr std::int64_t lasts_ms = 120'000;
constexpr std::int64_t calm_ms = 45'000;  ///< longer than a silent cut and a call that lapses

class Day {
public:
    Day(std::uint64_t seed, Fault fault)
        : chance_(seed), files_(service::files_of(folder_.at("saturday.toml"))) {
        testing::write_file(files_.sheet, day_text());
        world_.fault = fault;
        disk_.begin_anew(fault == Fault::lying_disk);
        network_.mixes_up = fault == Fault::mixed_up;
    }

    Outcome play();

private:
    void begin();
    void come();
    void go_on_until(std::int64_t steady_ms);
    void step_on();
    void mishap();
    void mishap_of_the_disk();
    void after_its_end(bool power_was_cut);
    void start();
    void expect_no_mistake() const;
    void calm_down();
    void compare_boards();

    bool happens(int percent) { return chance(chance_, percent); }
    int some(int low, int high) { return whole(chance_, low, high); }

    Chance chance_;
    testing::TemporaryFolder folder_;
    service::DayFiles files_;
    UnsureDisk& disk_ = UnsureDisk::make_the_default();
    Tally tally_;
    Trace trace_{folder_.at("")};
    Clockwork clockwork_;
    Network network_{clockwork_, chance_};
    Oracle oracle_{disk_, files_.log};
    Host host_{clockwork_, network_, disk_, files_, chance_};
    World world_{chance_, clockwork_, network_, host_, oracle_, tally_, trace_};
    std::vector<std::unique_ptr<Device>> devices_;
    bool is_over_ = false;  ///< nothing goes wrong any more
};

void Day::begin() {
    start();
    if (!host_.is_up()) throw Broken("it does not start on an empty disk: " + host_.last_mistake);
    for (const auto role : {v1::Role::marshal, v1::Role::pilot, v1::Role::onlooker})
        world_.tickets[{role, ""}] = host_.ticket(role, "");
    for (const auto& pilot : {"Ann", "Ben", "Cem", "Dee"})
        world_.tickets[{v1::Role::pilot, pilot}] = host_.ticket(v1::Role::pilot, pilot);
    come();
    clockwork_.after(some(2000, 9000), [this] { mishap(); });
}

void Day::come() {
    using Owner = Device::Owner;
    const std::array owners{Owner{"Mona", v1::Role::marshal, false, false},
                            Owner{"Ann", v1::Role::pilot, true, false},
                            Owner{"Ben", v1::Role::pilot, true, false},
                            Owner{"Cem", v1::Role::pilot, true, false},
                            Owner{"Dee", v1::Role::pilot, true, false},
                            Owner{"Ann", v1::Role::pilot, true, false},
                            Owner{"Max", v1::Role::marshal, false, false},
                            Owner{"Ben", v1::Role::pilot, false, false},
                            Owner{"Mona", v1::Role::marshal, false, false},
                            Owner{"Olly", v1::Role::onlooker, false, false},
                            Owner{"Zoe", v1::Role::pilot, false, true},
                            Owner{"Dee", v1::Role::pilot, false, true}};
    tally_.clients = some(3, static_cast<int>(owners.size()));
    for (int i = 0; i < tally_.clients; ++i) {
        // The first are a marshal and two pilots: somebody flies, somebody nods.
        const auto who = i < 3 ? i : some(1, static_cast<int>(owners.size()) - 1);
        devices_.push_back(
            std::make_unique<Device>(world_, i, owners[static_cast<std::size_t>(who)]));
        devices_.back()->begin();
    }
}

void Day::start() {
    const bool is_up = host_.start();
    if (!is_up || !disk_.has_power()) {
        ++tally_.failed_starts;
        world_.note("the server does not start");
        const bool was_cut = !disk_.has_power();
        if (is_up) host_.crash();
        host_.last_mistake.clear();
        return after_its_end(was_cut);
    }
    world_.note(fmt::format("the server is up at version {}", host_.keeper().state().version()));
    oracle_.started(host_.keeper());
}

/// It was killed, or the power went, and comes back after a while.
void Day::after_its_end(bool power_was_cut) {
    oracle_.ended();
    if (power_was_cut && happens(50))
        disk_.power_returns(happens(50) ? &chance_ : nullptr);
    else
        disk_.is_left_as_it_is();
    clockwork_.after(some(100, 6000), [this] { start(); });
    if (is_over_) return;
    if (happens(10)) disk_.cut_after(some(0, 4));
    if (happens(10)) disk_.fail_once_after(some(0, 4));
}

void Day::mishap() {
    if (is_over_) return;
    clockwork_.after(some(1000, 14'000), [this] { mishap(); });
    const int what = some(0, 99);
    if (what < 40) {
        if (const auto cable = network_.any()) {
            ++tally_.cut_cables;
            world_.note("a connection is cut");
            network_.cut(cable);
        }
    } else if (what < 50) {
        ++tally_.jumps;
        const auto by_ms = happens(50) ? some(-3'600'000, 3'600'000) : some(-5000, 5000);
        world_.note(fmt::format("the clock jumps by {} ms", by_ms));
        clockwork_.jump(by_ms);
    } else if (what < 55) {
        world_.note("everybody is cut off");
        network_.cut_all();
    } else if (!host_.is_up()) {
        return;
    } else if (what < 65) {
        ++tally_.kills;
        world_.note("the server is killed");
        oracle_.ended();
        host_.crash();
        after_its_end(happens(60));
    } else if (what < 70) {
        ++tally_.stops;
        world_.note("the server is stopped");
        host_.stop();
        after_its_end(!disk_.has_power());
    } else {
        mishap_of_the_disk();
    }
}

void Day::mishap_of_the_disk() {
    switch (some(0, 2)) {
        case 0:
            world_.note("a call to the disk will fail");
            return disk_.fail_once_after(some(0, 12));
        case 1:
            world_.note("the power will go at a call to the disk");
            return disk_.cut_after(some(0, 25));
        default:
            ++tally_.full_disks;
            world_.note("the disk is full");
            disk_.be_full(true);
            clockwork_.after(some(500, 8000), [this] { disk_.be_full(false); });
    }
}

void Day::expect_no_mistake() const {
    if (!host_.last_mistake.empty()) throw Broken("a mistake of the server: " + host_.last_mistake);
}

/// One handler of the server; everybody looks.
void Day::step_on() {
    ++tally_.steps;
    if (!disk_.has_power()) {
        ++tally_.power_cuts;
        world_.note("the power is gone");
        oracle_.ended();
        host_.crash();
        return after_its_end(true);
    }
    expect_no_mistake();
    oracle_.look(host_.keeper());
}

void Day::go_on_until(std::int64_t steady_ms) {
    auto looked_ms = clockwork_.steady_ms();
    while (clockwork_.steady_ms() < steady_ms && clockwork_.next()) {
        if (!host_.is_up()) continue;
        if (clockwork_.steady_ms() != looked_ms) {
            host_.look_at_the_time();
            looked_ms = clockwork_.steady_ms();
            step_on();
        }
        // Some handlers, or all there are.
        int most = happens(40) ? some(0, 4) : 10'000;
        while (most-- > 0 && host_.is_up() && host_.step()) step_on();
    }
}

/// Nothing goes wrong any more, and nobody asks; then one thing happens, and all are told of it.
void Day::calm_down() {
    is_over_ = true;
    world_.is_calm = true;
    disk_.fail_once_after(-1);
    disk_.cut_after(-1);
    disk_.be_full(false);
    go_on_until(clockwork_.steady_ms() + calm_ms);
    if (!host_.is_up()) throw Broken("the server does not come back");
    for (const auto& device : devices_)
        if (device->note_a_sighting()) break;
    go_on_until(clockwork_.steady_ms() + calm_ms);
    compare_boards();
    oracle_.settle(host_.keeper(), clockwork_.utc_ms());
}

void Day::compare_boards() {
    const auto board = host_.desk().snapshot()->board();
    for (const auto& device : devices_) {
        if (!device->is_watching()) continue;
        ++tally_.boards_compared;
        if (testing::bytes_of(device->board()) != testing::bytes_of(board))
            throw Broken(fmt::format("{} sees\n{}\nand it is\n{}", device->name(),
                                     device->board().DebugString(), board.DebugString()));
    }
}

Outcome Day::play() {
    Outcome outcome;
    try {
        begin();
        go_on_until(clockwork_.steady_ms() + lasts_ms);
        calm_down();
    } catch (const Broken& broken) {
        outcome.broken = fmt::format("{}\nthe last steps:\n{}", broken.what(), trace_.last_steps());
    }
    oracle_.ended();
    tally_.failed_calls = disk_.failures();
    tally_.versions = static_cast<int>(oracle_.day().version());
    tally_.refused_yet_kept = oracle_.refused_yet_kept();
    outcome.trace = trace_.hash();
    outcome.tally = tally_;
    return outcome;
}

}  // namespace

Outcome play(std::uint64_t seed, Fault fault) {
    return Day(seed, fault).play();
}

}  // namespace fieldpeg::simulation
