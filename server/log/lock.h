#pragma once

#include "server/refusal/refusal.h"

#include <string>

namespace fieldpeg::log {

/// An open file; closed with it.
class Descriptor {
public:
    explicit Descriptor(int number = -1) : number_(number) {}
    Descriptor(Descriptor&& other) noexcept;
    Descriptor& operator=(Descriptor&& other) noexcept;
    Descriptor(const Descriptor&) = delete;
    Descriptor& operator=(const Descriptor&) = delete;
    ~Descriptor();

    int number() const { return number_; }
    bool is_open() const { return number_ >= 0; }

private:
    int number_;
};

/// Holds a day for one program at a time. The lock is on the log itself (on a byte that SQLite does
/// not use), so that it goes with the file wherever that is, and with the process, however it ends.
/// Where there is no log yet, it is on the file that becomes it. A file beside it, NAME.lock, is
/// locked too, and has the number of the process: for people, and for programs of before.
///
/// It must outlive SQLite's connections to the file: by POSIX, a process that closes one descriptor
/// of a file gives back what it locked of it through any other.
class Lock {
public:
    /// Refuses while another program holds the day, and says which process.
    static Result<Lock> take(const std::string& log);

    Lock(Lock&&) = default;
    Lock& operator=(Lock&&) = default;
    /// What did not become a log is gone.
    ~Lock();

    /// Whether there is no log yet.
    bool is_new() const { return is_new_; }
    /// What is locked: the log, or what becomes it.
    const std::string& file() const { return path_; }

    /// Of a new one: nothing is left in it of one that was killed.
    Result<void> make_empty() const;
    /// Of a new one: it is the log from now on, all of it on disk; or not at all. Never in the
    /// place of another.
    Result<void> becomes(const std::string& log);

private:
    Lock(Descriptor note, Descriptor file, std::string path, bool is_new);

    Descriptor note_;
    Descriptor file_;
    std::string path_;
    bool is_new_;
};

}  // namespace fieldpeg::log
