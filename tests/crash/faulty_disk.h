#pragma once

#include <string>

struct sqlite3_vfs;

namespace fieldpeg::testing {

/// A file system for SQLite over the one that was the default, in which a call fails: once, or all
/// from one on until it is mended. The way in which SQLite's own tests do it (SQLite, "How SQLite
/// Is Tested", I/O error testing and out-of-disk testing; from memory).
class FaultyDisk {
public:
    enum class Fault {
        error,        ///< any call ends with the error of its kind, and does nothing
        short_write,  ///< half of what was to be written is, then an error
        full,         ///< likewise, then: the disk is full
    };
    enum class Lasts { once, until_mended };

    /// SQLite opens everything through it from then on.
    static FaultyDisk& over_the_default();

    /// The calls are counted anew, from 1; 0: none fails.
    void fail(int call, Fault fault, Lasts lasts);
    void mend() { fail_at_ = 0; }
    /// How many calls there were that could have failed so.
    int calls() const { return calls_; }
    /// The first that failed; empty: none has.
    const std::string& failed() const { return failed_; }

    // For the file system only.
    bool fails(const char* call, bool is_write = false);
    Fault fault() const { return fault_; }

private:
    int fail_at_ = 0;
    int calls_ = 0;
    Fault fault_ = Fault::error;
    Lasts lasts_ = Lasts::once;
    std::string failed_;
};

}  // namespace fieldpeg::testing
