#pragma once

#include "tests/crash/forgetful_disk.h"

#include <string>

namespace fieldpeg::simulation {

/// The forgetful disk, on which calls also fail once, nothing has room for a while, and the power
/// goes in the middle of anything.
class UnsureDisk {
public:
    /// The only one; SQLite opens everything on it from then on.
    static UnsureDisk& make_the_default();

    /// An empty disk in good order.
    void begin_anew(bool lies);

    /// The write, cut-off or sync after so many others fails, and those after it do not.
    void fail_once_after(int calls) { fails_after_ = calls; }
    /// The power goes instead.
    void cut_after(int calls) { cut_after_ = calls; }
    void cut() { has_power_ = false; }
    void be_full(bool full) { is_full_ = full; }

    bool has_power() const { return has_power_; }
    bool has_failed() const { return failures_ > 0; }
    int failures() const { return failures_; }

    /// The program was killed: what it wrote stays, what it shared in memory is gone.
    void is_left_as_it_is();
    /// The power was gone too: of what was not synced any part may stay.
    void power_returns(std::mt19937_64* by_chance);

    /// While there is one, nothing is counted and nothing fails.
    class Aside {
    public:
        explicit Aside(UnsureDisk& disk) : disk_(disk) { ++disk_.asides_; }
        ~Aside() { --disk_.asides_; }
        Aside(const Aside&) = delete;
        Aside& operator=(const Aside&) = delete;

    private:
        UnsureDisk& disk_;
    };

    // For the file system only.
    int trouble(int as, bool grows);
    void remember(const std::string& path) { path_ = path; }

private:
    void be_in_order();

    testing::ForgetfulDisk* disk_ = nullptr;
    std::string path_;  ///< of the log
    int fails_after_ = -1;
    int cut_after_ = -1;
    int failures_ = 0;
    int asides_ = 0;
    bool is_full_ = false;
    bool has_power_ = true;
};

}  // namespace fieldpeg::simulation
