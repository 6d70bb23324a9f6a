#include "tests/simulation/unsure_disk.h"

#include <sqlite3.h>

namespace fieldpeg::simulation {
namespace {

UnsureDisk disk;
sqlite3_vfs forgetful;
const sqlite3_io_methods* forgetful_file = nullptr;  ///< set once one is open

int read(sqlite3_file* f, void* into, int size, sqlite3_int64 from) {
    return disk.has_power() ? forgetful_file->xRead(f, into, size, from) : SQLITE_IOERR_READ;
}

int write(sqlite3_file* f, const void* from, int size, sqlite3_int64 at) {
    sqlite3_int64 now = 0;
    forgetful_file->xFileSize(f, &now);
    const int trouble = disk.trouble(SQLITE_IOERR_WRITE, at + size > now);
    return trouble != SQLITE_OK ? trouble : forgetful_file->xWrite(f, from, size, at);
}

int truncate(sqlite3_file* f, sqlite3_int64 size) {
    const int trouble = disk.trouble(SQLITE_IOERR_TRUNCATE, false);
    return trouble != SQLITE_OK ? trouble : forgetful_file->xTruncate(f, size);
}

int sync(sqlite3_file* f, int flags) {
    const int trouble = disk.trouble(SQLITE_IOERR_FSYNC, false);
    return trouble != SQLITE_OK ? trouble : forgetful_file->xSync(f, flags);
}

int open(sqlite3_vfs* vfs, const char* path, sqlite3_file* f, int flags, int* out_flags) {
    static sqlite3_io_methods methods;
    f->pMethods = nullptr;
    if (!disk.has_power()) return SQLITE_IOERR;
    if (path && (flags & SQLITE_OPEN_MAIN_DB) != 0) disk.remember(path);
    const int opened = forgetful.xOpen(vfs, path, f, flags, out_flags);
    if (opened != SQLITE_OK) return opened;
    if (!forgetful_file) {
        forgetful_file = f->pMethods;
        methods = *forgetful_file;
        methods.xRead = read;
        methods.xWrite = write;
        methods.xTruncate = truncate;
        methods.xSync = sync;
    }
    f->pMethods = &methods;
    return SQLITE_OK;
}

int remove(sqlite3_vfs* vfs, const char* path, int sync_folder) {
    return disk.has_power() ? forgetful.xDelete(vfs, path, sync_folder) : SQLITE_IOERR_DELETE;
}

}  // namespace

UnsureDisk& UnsureDisk::make_the_default() {
    static sqlite3_vfs vfs = [] {
        disk.disk_ = &testing::ForgetfulDisk::make_the_default();
        forgetful = *sqlite3_vfs_find("forgetful");
        sqlite3_vfs v = forgetful;
        v.pNext = nullptr;
        v.zName = "unsure";
        v.xOpen = open;
        v.xDelete = remove;
        return v;
    }();
    sqlite3_vfs_register(&vfs, 1);
    return disk;
}

void UnsureDisk::begin_anew(bool lies) {
    disk_->begin_anew(0, lies);
    failures_ = 0;
    be_in_order();
}

void UnsureDisk::be_in_order() {
    fails_after_ = -1;
    cut_after_ = -1;
    is_full_ = false;
    has_power_ = true;
}

int UnsureDisk::trouble(int as, bool grows) {
    if (!has_power_) return as;
    if (asides_ > 0) return SQLITE_OK;
    if (cut_after_ >= 0 && cut_after_-- == 0) {
        has_power_ = false;
        return as;
    }
    const bool fails = fails_after_ >= 0 && fails_after_-- == 0;
    const bool has_no_room = is_full_ && grows;
    if (!fails && !has_no_room) return SQLITE_OK;
    ++failures_;
    return fails ? as : SQLITE_FULL;
}

void UnsureDisk::is_left_as_it_is() {
    be_in_order();
    if (const auto log = disk_->opened(path_, false)) {
        log->shared.clear();
        log->shared_readers = {};
        log->shared_writer = {};
        log->readers = 0;
        log->writer = nullptr;
    }
}

void UnsureDisk::power_returns(std::mt19937_64* by_chance) {
    be_in_order();
    disk_->power_returns(by_chance);
}

}  // namespace fieldpeg::simulation
