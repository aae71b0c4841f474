#include "shim_vfs.h"

#include <pthread.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <sqlite3.h>

const char *const shim_call_names[SHIM_CALLS] = {"open",     "read", "write", "sync",
                                                 "truncate", "lock", "map"};

struct shim_file {
    sqlite3_file base;
    sqlite3_file *real; /* behind this struct */
};

static struct {
    pthread_mutex_t lock;
    pthread_cond_t released;
    sqlite3_vfs vfs;
    sqlite3_vfs *real;
    bool armed, lasting, hit, stalled;
    enum shim_call call;
    int countdown, result, waiting;
} shim = {.lock = PTHREAD_MUTEX_INITIALIZER, .released = PTHREAD_COND_INITIALIZER};

/* SQLITE_OK, or how this call is to fail. */
static int fault(enum shim_call call)
{
    int result = SQLITE_OK;
    pthread_mutex_lock(&shim.lock);
    if (shim.armed && shim.call == call && --shim.countdown <= 0) {
        result = shim.result;
        shim.hit = true;
        shim.armed = shim.lasting;
    }
    pthread_mutex_unlock(&shim.lock);
    return result;
}

static sqlite3_file *real_of(sqlite3_file *file)
{
    return ((struct shim_file *)file)->real;
}

static int shim_close(sqlite3_file *file)
{
    return real_of(file)->pMethods->xClose(real_of(file));
}

static int shim_read(sqlite3_file *file, void *data, int size, sqlite3_int64 offset)
{
    int result = fault(SHIM_READ);
    return result ? result : real_of(file)->pMethods->xRead(real_of(file), data, size, offset);
}

static int shim_write(sqlite3_file *file, const void *data, int size, sqlite3_int64 offset)
{
    int result = fault(SHIM_WRITE);
    int wrote = result ? size / 2 : size;
    int real = real_of(file)->pMethods->xWrite(real_of(file), data, wrote, offset);
    return result ? result : real;
}

static int shim_truncate(sqlite3_file *file, sqlite3_int64 size)
{
    int result = fault(SHIM_TRUNCATE);
    return result ? result : real_of(file)->pMethods->xTruncate(real_of(file), size);
}

static int shim_sync(sqlite3_file *file, int flags)
{
    (void)file;
    (void)flags;
    pthread_mutex_lock(&shim.lock);
    shim.waiting++;
    while (shim.stalled) {
        pthread_cond_wait(&shim.released, &shim.lock);
    }
    shim.waiting--;
    pthread_mutex_unlock(&shim.lock);
    return fault(SHIM_SYNC);
}

static int shim_file_size(sqlite3_file *file, sqlite3_int64 *size)
{
    return real_of(file)->pMethods->xFileSize(real_of(file), size);
}

static int shim_lock(sqlite3_file *file, int level)
{
    int result = fault(SHIM_LOCK);
    return result ? result : real_of(file)->pMethods->xLock(real_of(file), level);
}

static int shim_unlock(sqlite3_file *file, int level)
{
    return real_of(file)->pMethods->xUnlock(real_of(file), level);
}

static int shim_check_lock(sqlite3_file *file, int *out)
{
    return real_of(file)->pMethods->xCheckReservedLock(real_of(file), out);
}

static int shim_control(sqlite3_file *file, int op, void *arg)
{
    return real_of(file)->pMethods->xFileControl(real_of(file), op, arg);
}

static int shim_sector(sqlite3_file *file)
{
    return real_of(file)->pMethods->xSectorSize(real_of(file));
}

/* No promise at all: neither atomic writes nor safe overwriting. */
static int shim_traits(sqlite3_file *file)
{
    (void)file;
    return 0;
}

static int shim_map(sqlite3_file *file, int page, int size, int extend, void volatile **out)
{
    int result = fault(SHIM_MAP);
    return result ? result
                  : real_of(file)->pMethods->xShmMap(real_of(file), page, size, extend, out);
}

static int shim_shm_lock(sqlite3_file *file, int offset, int count, int flags)
{
    int result = flags & SQLITE_SHM_LOCK ? fault(SHIM_LOCK) : SQLITE_OK;
    return result ? result : real_of(file)->pMethods->xShmLock(real_of(file), offset, count, flags);
}

static void shim_barrier(sqlite3_file *file)
{
    real_of(file)->pMethods->xShmBarrier(real_of(file));
}

static int shim_unmap(sqlite3_file *file, int remove)
{
    return real_of(file)->pMethods->xShmUnmap(real_of(file), remove);
}

static const sqlite3_io_methods methods = {
    .iVersion = 2, /* without memory-mapped reads, which no call would announce */
    .xClose = shim_close,
    .xRead = shim_read,
    .xWrite = shim_write,
    .xTruncate = shim_truncate,
    .xSync = shim_sync,
    .xFileSize = shim_file_size,
    .xLock = shim_lock,
    .xUnlock = shim_unlock,
    .xCheckReservedLock = shim_check_lock,
    .xFileControl = shim_control,
    .xSectorSize = shim_sector,
    .xDeviceCharacteristics = shim_traits,
    .xShmMap = shim_map,
    .xShmLock = shim_shm_lock,
    .xShmBarrier = shim_barrier,
    .xShmUnmap = shim_unmap,
};

static int shim_open(sqlite3_vfs *vfs, const char *path, sqlite3_file *file, int flags, int *out)
{
    (void)vfs;
    struct shim_file *shimmed = (struct shim_file *)file;
    *shimmed = (struct shim_file){.real = (sqlite3_file *)(shimmed + 1)};
    int result = fault(SHIM_OPEN);
    result = result ? result : shim.real->xOpen(shim.real, path, shimmed->real, flags, out);
    if (result == SQLITE_OK) {
        shimmed->base.pMethods = &methods;
    }
    return result;
}

void shim_register(void)
{
    shim.real = sqlite3_vfs_find(NULL);
    shim.vfs = *shim.real;
    shim.vfs.zName = SHIM_VFS;
    shim.vfs.pNext = NULL;
    shim.vfs.szOsFile = (int)sizeof(struct shim_file) + shim.real->szOsFile;
    shim.vfs.xOpen = shim_open;
    if (sqlite3_vfs_register(&shim.vfs, 0)) {
        abort();
    }
}

void shim_fail(enum shim_call call, int nth, int result, bool lasting)
{
    pthread_mutex_lock(&shim.lock);
    shim.call = call;
    shim.countdown = nth;
    shim.result = result;
    shim.lasting = lasting;
    shim.armed = true;
    shim.hit = false;
    pthread_mutex_unlock(&shim.lock);
}

bool shim_heal(void)
{
    pthread_mutex_lock(&shim.lock);
    bool hit = shim.hit;
    shim.armed = shim.hit = false;
    pthread_mutex_unlock(&shim.lock);
    return hit;
}

void shim_stall(bool stalled)
{
    pthread_mutex_lock(&shim.lock);
    shim.stalled = stalled;
    pthread_cond_broadcast(&shim.released);
    pthread_mutex_unlock(&shim.lock);
}

int shim_stalled(void)
{
    pthread_mutex_lock(&shim.lock);
    int waiting = shim.stalled ? shim.waiting : 0;
    pthread_mutex_unlock(&shim.lock);
    return waiting;
}
