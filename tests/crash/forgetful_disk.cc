#include "tests/crash/forgetful_disk.h"

#include <sqlite3.h>

#include <algorithm>
#include <cstring>
#include <new>

namespace fieldpeg::testing {
namespace {

using File = ForgetfulDisk::File;

ForgetfulDisk disk;

/// What SQLite holds of an open file; it gives the memory for it.
struct Handle {
    sqlite3_file base;
    std::shared_ptr<File> file;
    int level;  ///< of its lock
};

Handle& handle(sqlite3_file* of) {
    return *reinterpret_cast<Handle*>(of);
}

int close(sqlite3_file* f) {
    handle(f).~Handle();
    return SQLITE_OK;
}

int read(sqlite3_file* f, void* into, int size, sqlite3_int64 from) {
    if (!disk.has_power()) return SQLITE_IOERR_READ;
    const auto& bytes = handle(f).file->now;
    const auto at = std::min(static_cast<std::size_t>(from), bytes.size());
    const auto wanted = static_cast<std::size_t>(size);
    const auto got = std::min(wanted, bytes.size() - at);
    std::memcpy(into, bytes.data() + at, got);
    std::memset(static_cast<char*>(into) + got, 0, wanted - got);
    return got == wanted ? SQLITE_OK : SQLITE_IOERR_SHORT_READ;
}

void put(std::string& into, const ForgetfulDisk::Write& write) {
    if (write.bytes.empty()) return into.resize(write.at);
    into.resize(std::max(into.size(), write.at + write.bytes.size()));
    into.replace(write.at, write.bytes.size(), write.bytes);
}

int changed(sqlite3_file* f, ForgetfulDisk::Write write) {
    auto& file = *handle(f).file;
    put(file.now, write);
    file.unsure.push_back(std::move(write));
    return SQLITE_OK;
}

int write(sqlite3_file* f, const void* from, int size, sqlite3_int64 at) {
    if (!disk.has_power()) return SQLITE_IOERR_WRITE;
    return changed(f, {static_cast<std::size_t>(at), std::string(static_cast<const char*>(from),
                                                                 static_cast<std::size_t>(size))});
}

int truncate(sqlite3_file* f, sqlite3_int64 size) {
    if (!disk.has_power()) return SQLITE_IOERR_TRUNCATE;
    return changed(f, {static_cast<std::size_t>(size), ""});
}

int sync(sqlite3_file* f, int) {
    return disk.synced(*handle(f).file) ? SQLITE_OK : SQLITE_IOERR_FSYNC;
}

int file_size(sqlite3_file* f, sqlite3_int64* size) {
    *size = static_cast<sqlite3_int64>(handle(f).file->now.size());
    return SQLITE_OK;
}

/// As many readers as like, one who is about to write beside them, or one who writes alone.
int lock(sqlite3_file* f, int level) {
    auto& h = handle(f);
    auto& file = *h.file;
    if (level <= h.level) return SQLITE_OK;
    if (level == SQLITE_LOCK_SHARED) {
        if (file.writer) return SQLITE_BUSY;
        ++file.readers;
    } else {
        if (file.writer && file.writer != &h) return SQLITE_BUSY;
        if (level == SQLITE_LOCK_EXCLUSIVE && file.readers > 1) return SQLITE_BUSY;
        file.writer = &h;
    }
    h.level = level;
    return SQLITE_OK;
}

int unlock(sqlite3_file* f, int level) {
    auto& h = handle(f);
    if (level >= h.level) return SQLITE_OK;
    if (h.file->writer == &h) h.file->writer = nullptr;
    if (level == SQLITE_LOCK_NONE) --h.file->readers;
    h.level = level;
    return SQLITE_OK;
}

int is_reserved(sqlite3_file* f, int* reserved) {
    *reserved = handle(f).file->writer != nullptr ? 1 : 0;
    return SQLITE_OK;
}

int control(sqlite3_file*, int, void*) {
    return SQLITE_NOTFOUND;
}

int sector_size(sqlite3_file*) {
    return 512;
}

int characteristics(sqlite3_file*) {
    return 0;
}

int map_shared(sqlite3_file* f, int region, int, int extend, volatile void** into) {
    auto& shared = handle(f).file->shared;
    const auto n = static_cast<std::size_t>(region);
    while (extend != 0 && shared.size() <= n)
        shared.push_back(std::make_unique<std::array<char, 32768>>());
    *into = n < shared.size() ? shared[n]->data() : nullptr;
    return SQLITE_OK;
}

int lock_shared(sqlite3_file* f, int first, int count, int flags) {
    auto& file = *handle(f).file;
    const auto from = static_cast<std::size_t>(first);
    const auto end = from + static_cast<std::size_t>(count);
    const bool alone = (flags & SQLITE_SHM_EXCLUSIVE) != 0;
    for (auto i = from; i < end; ++i) {
        if ((flags & SQLITE_SHM_UNLOCK) != 0) {
            if (alone)
                file.shared_writer[i] = nullptr;
            else
                --file.shared_readers[i];
        } else if (file.shared_writer[i] || (alone && file.shared_readers[i] > 0)) {
            return SQLITE_BUSY;
        }
    }
    for (auto i = from; i < end && (flags & SQLITE_SHM_LOCK) != 0; ++i) {
        if (alone)
            file.shared_writer[i] = f;
        else
            ++file.shared_readers[i];
    }
    return SQLITE_OK;
}

void barrier(sqlite3_file*) {}

int unmap_shared(sqlite3_file*, int) {
    return SQLITE_OK;
}

const sqlite3_io_methods methods = {2,
                                    close,
                                    read,
                                    write,
                                    truncate,
                                    sync,
                                    file_size,
                                    lock,
                                    unlock,
                                    is_reserved,
                                    control,
                                    sector_size,
                                    characteristics,
                                    map_shared,
                                    lock_shared,
                                    barrier,
                                    unmap_shared,
                                    nullptr,
                                    nullptr};

int open(sqlite3_vfs*, const char* path, sqlite3_file* f, int flags, int* out_flags) {
    f->pMethods = nullptr;
    if (!disk.has_power()) return SQLITE_IOERR;
    auto file = disk.opened(path ? path : "", !path || (flags & SQLITE_OPEN_CREATE) != 0);
    if (!file) return SQLITE_CANTOPEN;
    new (f) Handle{{&methods}, std::move(file), SQLITE_LOCK_NONE};
    if (out_flags) *out_flags = flags;
    return SQLITE_OK;
}

int remove(sqlite3_vfs*, const char* path, int sync_folder) {
    if (!disk.has_power()) return SQLITE_IOERR_DELETE;
    disk.remove(path, sync_folder != 0);
    return SQLITE_OK;
}

int access(sqlite3_vfs*, const char* path, int, int* result) {
    *result = disk.exists(path) ? 1 : 0;
    return SQLITE_OK;
}

int full_path(sqlite3_vfs*, const char* path, int size, char* into) {
    sqlite3_snprintf(size, into, "%s", path);
    return SQLITE_OK;
}

}  // namespace

ForgetfulDisk& ForgetfulDisk::make_the_default() {
    static sqlite3_vfs vfs = [] {
        sqlite3_vfs v = *sqlite3_vfs_find(nullptr);  // chance, clock and the like are as usual
        v.iVersion = 1;
        v.szOsFile = sizeof(Handle);
        v.pNext = nullptr;
        v.zName = "forgetful";
        v.xOpen = open;
        v.xDelete = fieldpeg::testing::remove;
        v.xAccess = fieldpeg::testing::access;
        v.xFullPathname = full_path;
        return v;
    }();
    sqlite3_vfs_register(&vfs, 1);
    return disk;
}

void ForgetfulDisk::begin_anew(int cut_at_sync, bool lies) {
    files_.clear();
    cut_at_sync_ = cut_at_sync;
    syncs_ = 0;
    lies_ = lies;
    has_power_ = true;
}

void ForgetfulDisk::power_returns(std::mt19937_64* by_chance) {
    for (auto& [path, file] : files_) {
        const bool appears = by_chance && file->is_there && (*by_chance)() % 2 == 0;
        auto after = std::make_shared<File>();
        after->is_there = file->kept.has_value() || appears;
        after->now = file->kept.value_or("");
        for (const auto& write : file->unsure)
            if (after->is_there && by_chance && (*by_chance)() % 2 == 0) put(after->now, write);
        if (after->is_there) after->kept = after->now;
        file = std::move(after);
    }
    cut_at_sync_ = 0;
    lies_ = false;
    has_power_ = true;
}

std::shared_ptr<File> ForgetfulDisk::opened(const std::string& path, bool make) {
    auto& file = files_[path];
    if (file && file->is_there) return file;
    if (!make) return nullptr;
    auto kept = file ? file->kept : std::nullopt;
    file = std::make_shared<File>();
    file->kept = std::move(kept);
    return file;
}

bool ForgetfulDisk::exists(const std::string& path) const {
    const auto file = files_.find(path);
    return file != files_.end() && file->second && file->second->is_there;
}

void ForgetfulDisk::remove(const std::string& path, bool surely) {
    const auto file = files_.find(path);
    if (file == files_.end() || !file->second) return;
    file->second->is_there = false;
    if (surely) file->second->kept.reset();
}

bool ForgetfulDisk::synced(File& file) {
    if (!has_power_) return false;
    if (++syncs_ == cut_at_sync_) has_power_ = false;
    if (!has_power_) return false;
    if (lies_) return true;
    file.kept = file.now;
    file.unsure.clear();
    return true;
}

}  // namespace fieldpeg::testing
