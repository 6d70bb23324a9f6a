#pragma once

#include <array>
#include <cstddef>
#include <functional>
#include <map>
#include <memory>
#include <optional>
#include <random>
#include <string>
#include <vector>

struct sqlite3_vfs;

namespace fieldpeg::testing {

/// A disk in memory, and a file system for SQLite on it, with shared memory so that a write-ahead
/// log works. What was written is sure to stay only once it was synced: a power cut forgets the
/// rest, or, worse, keeps any part of it. A disk that lies says that it has synced and has not.
class ForgetfulDisk {
public:
    struct Write {
        std::size_t at;
        std::string bytes;
    };
    struct File {
        std::string now;
        std::optional<std::string> kept;  ///< none: not even its name is sure to stay
        std::vector<Write> unsure;  ///< since it was synced; a cut-off is one at `at` without bytes
        bool is_there = true;
        int readers = 0;
        const void* writer = nullptr;  ///< who has, or is about to have, it alone
        std::vector<std::unique_ptr<std::array<char, 32768>>> shared;
        std::array<int, 8> shared_readers{};
        std::array<const void*, 8> shared_writer{};
    };

    /// The only one; SQLite opens everything on it from then on.
    static ForgetfulDisk& make_the_default();

    /// An empty disk, the power on; the power goes at the sync of this number, counted from 1.
    void begin_anew(int cut_at_sync, bool lies = false);
    /// Power comes back: what was not synced is forgotten, or each part of it by chance.
    void power_returns(std::mt19937_64* by_chance);

    int syncs() const { return syncs_; }
    bool has_power() const { return has_power_; }

    // For the file system only.
    std::shared_ptr<File> opened(const std::string& path, bool make);
    bool exists(const std::string& path) const;
    void remove(const std::string& path, bool surely);
    bool synced(File& file);

private:
    std::map<std::string, std::shared_ptr<File>> files_;
    int cut_at_sync_ = 0;
    int syncs_ = 0;
    bool lies_ = false;
    bool has_power_ = true;
};

}  // namespace fieldpeg::testing
