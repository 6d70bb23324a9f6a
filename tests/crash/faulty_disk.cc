#include "tests/crash/faulty_disk.h"

#include <sqlite3.h>

#include <cstring>

namespace fieldpeg::testing {
namespace {

FaultyDisk disk;
sqlite3_vfs* below = nullptr;

/// Behind it, in the same memory, is the file of the file system below.
struct Handle {
    sqlite3_file base;
    sqlite3_file* inner;
};

sqlite3_file* inner(sqlite3_file* of) {
    return reinterpret_cast<Handle*>(of)->inner;
}

int close(sqlite3_file* f) {
    return inner(f)->pMethods ? inner(f)->pMethods->xClose(inner(f)) : SQLITE_OK;
}

int read(sqlite3_file* f, void* into, int size, sqlite3_int64 from) {
    if (disk.fails("read")) return SQLITE_IOERR_READ;
    return inner(f)->pMethods->xRead(inner(f), into, size, from);
}

int write(sqlite3_file* f, const void* from, int size, sqlite3_int64 at) {
    const auto* below_it = inner(f)->pMethods;
    if (!disk.fails("write", true)) return below_it->xWrite(inner(f), from, size, at);
    if (disk.fault() == FaultyDisk::Fault::error) return SQLITE_IOERR_WRITE;
    below_it->xWrite(inner(f), from, size / 2, at);
    return disk.fault() == FaultyDisk::Fault::full ? SQLITE_FULL : SQLITE_IOERR_WRITE;
}

int truncate(sqlite3_file* f, sqlite3_int64 size) {
    if (disk.fails("truncate")) return SQLITE_IOERR_TRUNCATE;
    return inner(f)->pMethods->xTruncate(inner(f), size);
}

int sync(sqlite3_file* f, int flags) {
    if (disk.fails("sync")) return SQLITE_IOERR_FSYNC;
    return inner(f)->pMethods->xSync(inner(f), flags);
}

int file_size(sqlite3_file* f, sqlite3_int64* size) {
    if (disk.fails("file size")) return SQLITE_IOERR_FSTAT;
    return inner(f)->pMethods->xFileSize(inner(f), size);
}

int lock(sqlite3_file* f, int level) {
    if (disk.fails("lock")) return SQLITE_IOERR_LOCK;
    return inner(f)->pMethods->xLock(inner(f), level);
}

/// What fails to be let go is let go all the same: the process is told of nothing else.
int unlock(sqlite3_file* f, int level) {
    const int done = inner(f)->pMethods->xUnlock(inner(f), level);
    return disk.fails("unlock") ? SQLITE_IOERR_UNLOCK : done;
}

int is_reserved(sqlite3_file* f, int* reserved) {
    if (disk.fails("look at a lock")) return SQLITE_IOERR_CHECKRESERVEDLOCK;
    return inner(f)->pMethods->xCheckReservedLock(inner(f), reserved);
}

int control(sqlite3_file* f, int what, void* with) {
    return inner(f)->pMethods->xFileControl(inner(f), what, with);
}

int sector_size(sqlite3_file* f) {
    return inner(f)->pMethods->xSectorSize(inner(f));
}

int characteristics(sqlite3_file* f) {
    return inner(f)->pMethods->xDeviceCharacteristics(inner(f));
}

int map_shared(sqlite3_file* f, int region, int size, int extend, volatile void** into) {
    if (disk.fails("map shared memory")) return SQLITE_IOERR_SHMMAP;
    return inner(f)->pMethods->xShmMap(inner(f), region, size, extend, into);
}

int lock_shared(sqlite3_file* f, int first, int count, int flags) {
    const bool is_unlock = (flags & SQLITE_SHM_UNLOCK) != 0;
    if (!is_unlock && disk.fails("lock shared memory")) return SQLITE_IOERR_SHMLOCK;
    return inner(f)->pMethods->xShmLock(inner(f), first, count, flags);
}

void barrier(sqlite3_file* f) {
    inner(f)->pMethods->xShmBarrier(inner(f));
}

int unmap_shared(sqlite3_file* f, int remove) {
    return inner(f)->pMethods->xShmUnmap(inner(f), remove);
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
    if (disk.fails("open")) return SQLITE_CANTOPEN;
    auto& handle = *reinterpret_cast<Handle*>(f);
    handle.inner = reinterpret_cast<sqlite3_file*>(&handle + 1);
    handle.inner->pMethods = nullptr;
    const int opened = below->xOpen(below, path, handle.inner, flags, out_flags);
    if (opened == SQLITE_OK) f->pMethods = &methods;
    return opened;
}

int remove(sqlite3_vfs*, const char* path, int sync_folder) {
    if (disk.fails("delete")) return SQLITE_IOERR_DELETE;
    return below->xDelete(below, path, sync_folder);
}

int access(sqlite3_vfs*, const char* path, int flags, int* result) {
    if (disk.fails("look for a file")) return SQLITE_IOERR_ACCESS;
    return below->xAccess(below, path, flags, result);
}

int full_path(sqlite3_vfs*, const char* path, int size, char* into) {
    if (disk.fails("resolve a path")) return SQLITE_CANTOPEN;
    return below->xFullPathname(below, path, size, into);
}

}  // namespace

FaultyDisk& FaultyDisk::over_the_default() {
    static sqlite3_vfs vfs = [] {
        below = sqlite3_vfs_find(nullptr);
        sqlite3_vfs v = *below;
        v.iVersion = 1;
        v.szOsFile = static_cast<int>(sizeof(Handle)) + below->szOsFile;
        v.pNext = nullptr;
        v.zName = "faulty";
        v.xOpen = open;
        v.xDelete = fieldpeg::testing::remove;
        v.xAccess = fieldpeg::testing::access;
        v.xFullPathname = full_path;
        return v;
    }();
    sqlite3_vfs_register(&vfs, 1);
    return disk;
}

void FaultyDisk::fail(int call, Fault fault, Lasts lasts) {
    fail_at_ = call;
    calls_ = 0;
    fault_ = fault;
    lasts_ = lasts;
    failed_.clear();
}

bool FaultyDisk::fails(const char* call, bool is_write) {
    if (fault_ != Fault::error && !is_write) return false;
    ++calls_;
    const bool now =
        fail_at_ != 0 && (lasts_ == Lasts::once ? calls_ == fail_at_ : calls_ >= fail_at_);
    if (now && failed_.empty()) failed_ = call;
    return now;
}

}  // namespace fieldpeg::testing
