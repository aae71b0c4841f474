/* shim_faults.c: preloaded into a program under test: calls that fail, or do not return, when the
 * test says so. The file that RINGTALLY_TEST_FAULTS names is a struct faults_control. Where
 * RINGTALLY_TEST_SERVE names two descriptors, the program waits before main(), and runs once, as a
 * child, for each byte that comes by the first; the child's number and how it ended go to the
 * other. Into the file that RINGTALLY_TEST_TRACE names goes a number for each call of the kinds
 * that are counted: the same for the same stack of callers while the disk stood the same.
 */
#define _GNU_SOURCE
#include <dlfcn.h>
#include <errno.h>
#include <fcntl.h>
#include <stdarg.h>
#include <stdbool.h>
#include <stdint.h>
#include <stdlib.h>
#include <string.h>
#include <sys/mman.h>
#include <sys/stat.h>
#include <sys/syscall.h>
#include <sys/wait.h>
#include <time.h>
#include <unistd.h>
#include <unwind.h>

#include "faults.h"
#include "shim_walk.h"

static struct faults_control *control(void)
{
    static struct faults_control none;
    static struct faults_control *known;
    struct faults_control *now = __atomic_load_n(&known, __ATOMIC_ACQUIRE);
    if (now) {
        return now;
    }
    if (!environ) { /* a sanitizer asks for memory before there is an environment */
        return &none;
    }
    const char *path = getenv("RINGTALLY_TEST_FAULTS");
    long fd = path ? syscall(SYS_openat, AT_FDCWD, path, O_RDWR | O_CLOEXEC, 0) : -1;
    long mapped =
        fd < 0 ? -1
               : syscall(SYS_mmap, NULL, sizeof none, PROT_READ | PROT_WRITE, MAP_SHARED, fd, 0L);
    if (fd >= 0) {
        syscall(SYS_close, fd);
    }
    now = mapped == -1 ? &none : (struct faults_control *)mapped; // NOLINT
    __atomic_store_n(&known, now, __ATOMIC_RELEASE);
    return now;
}

/* Whether the path, or that of the descriptor, is one of those that are ill. */
static bool is_meant(const struct faults_control *how, const char *path, int fd)
{
    char full[512];
    if (!how->where[0]) {
        return true;
    }
    path = path ? path : walk_path(full, sizeof full, fd);
    return path && strstr(path, how->where);
}

static struct faults_trace *trace;
static uint64_t disk_changes; /* calls that change a file, so far */

static _Unwind_Reason_Code add_frame(struct _Unwind_Context *frame, void *context)
{
    uint64_t *hash = context;
    *hash = (*hash ^ (uint64_t)_Unwind_GetIP(frame)) * 0x100000001b3; /* FNV-1a, by words */
    *hash ^= *hash >> 29;
    return _URC_NO_REASON;
}

static void note_stack(int64_t call)
{
    static __thread bool inside;
    if (trace && trace->on && !inside && call <= FAULTS_TRACED) {
        uint64_t hash = 0xcbf29ce484222325 + disk_changes;
        inside = true;
        _Unwind_Backtrace(add_frame, &hash);
        inside = false;
        trace->stack[call - 1] = hash;
    }
}

/* True: this call is to fail, errno is set. */
static bool fails(unsigned kind, const char *path, int fd)
{
    struct faults_control *how = control();
    disk_changes += (kind & (FAULT_WRITE | FAULT_TRUNCATE | FAULT_RENAME | FAULT_UNLINK)) != 0;
    if (!(how->kinds & kind) || walk_is_child() || !is_meant(how, path, fd)) {
        return false;
    }
    while (kind & FAULT_SYNC && __atomic_load_n(&how->stalled, __ATOMIC_ACQUIRE)) {
        struct timespec pause = {0, 2000000};
        syscall(SYS_nanosleep, &pause, NULL);
    }
    int64_t call = __atomic_add_fetch(&how->calls, 1, __ATOMIC_ACQ_REL);
    __atomic_add_fetch(&how->by_kind[__builtin_ctz(kind)], 1, __ATOMIC_RELAXED);
    note_stack(call);
    if (kind == FAULT_MEMORY && walk_tries(trace, call)) {
        errno = (int)how->cause;
        return true;
    }
    if (!how->nth || call < how->nth || (call > how->nth && !how->lasting)) {
        return false;
    }
    __atomic_add_fetch(&how->hits, 1, __ATOMIC_ACQ_REL);
    errno = (int)how->cause;
    return true;
}

static unsigned mode_of(int flags, va_list args)
{
    return flags & (O_CREAT | __O_TMPFILE) ? va_arg(args, unsigned) : 0;
}

/* A disk that is read-only can be read. */
static bool opens(int flags)
{
    return control()->cause != EROFS || flags & (O_WRONLY | O_RDWR | O_CREAT);
}

#define DEFINE_OPEN(name)                                                                          \
    int name(const char *path, int flags, ...)                                                     \
    {                                                                                              \
        va_list args;                                                                              \
        va_start(args, flags);                                                                     \
        unsigned mode = mode_of(flags, args);                                                      \
        va_end(args);                                                                              \
        walk_opens(path, flags);                                                                   \
        return opens(flags) && fails(FAULT_OPEN, path, -1)                                         \
                   ? -1                                                                            \
                   : (int)syscall(SYS_openat, AT_FDCWD, path, flags, mode);                        \
    }
DEFINE_OPEN(open)
DEFINE_OPEN(open64)

#define DEFINE(kind, type, name, parameters, fd, number, ...)                                      \
    type name parameters                                                                           \
    {                                                                                              \
        return fails(kind, NULL, fd) ? (type)-1 : (type)syscall(number, __VA_ARGS__);              \
    }
/* One that changes a file; `done` is what it gives where that is pretended. */
#define DEFINE_CHANGE(kind, type, name, parameters, fd, done, number, ...)                         \
    type name parameters                                                                           \
    {                                                                                              \
        return fails(kind, NULL, fd)           ? (type)-1                                          \
               : walk_pretends(kind, NULL, fd) ? (type)(done)                                      \
                                               : (type)syscall(number, __VA_ARGS__);               \
    }
DEFINE(FAULT_READ, ssize_t, pread, (int fd, void *data, size_t size, off_t at), fd, SYS_pread64, fd,
       data, size, at)
DEFINE(FAULT_READ, ssize_t, pread64, (int fd, void *data, size_t size, off64_t at), fd, SYS_pread64,
       fd, data, size, at)
DEFINE_CHANGE(FAULT_WRITE, ssize_t, pwrite, (int fd, const void *data, size_t size, off_t at), fd,
              size, SYS_pwrite64, fd, data, size, at)
DEFINE_CHANGE(FAULT_WRITE, ssize_t, pwrite64, (int fd, const void *data, size_t size, off64_t at),
              fd, size, SYS_pwrite64, fd, data, size, at)
DEFINE(FAULT_SYNC, int, fsync, (int fd), fd, SYS_fsync, fd)
DEFINE(FAULT_SYNC, int, fdatasync, (int fd), fd, SYS_fdatasync, fd)
DEFINE_CHANGE(FAULT_TRUNCATE, int, ftruncate, (int fd, off_t size), fd, 0, SYS_ftruncate, fd, size)
DEFINE_CHANGE(FAULT_TRUNCATE, int, ftruncate64, (int fd, off64_t size), fd, 0, SYS_ftruncate, fd,
              size)
DEFINE_CHANGE(FAULT_TRUNCATE, int, fallocate, (int fd, int mode, off_t at, off_t size), fd, 0,
              SYS_fallocate, fd, mode, at, size)
DEFINE(FAULT_STAT, int, fchmod, (int fd, mode_t mode), fd, SYS_fchmod, fd, mode)

/* What people and terminals read and write is not a disk. */
static bool is_file(int fd)
{
    struct stat info;
    return fd > 2 && syscall(SYS_fstat, fd, &info) == 0 && S_ISREG(info.st_mode);
}

ssize_t read(int fd, void *data, size_t size)
{
    return is_file(fd) && fails(FAULT_READ, NULL, fd) ? -1 : syscall(SYS_read, fd, data, size);
}

ssize_t write(int fd, const void *data, size_t size)
{
    if (is_file(fd)) {
        if (fails(FAULT_WRITE, NULL, fd)) {
            return -1;
        }
        if (walk_pretends(FAULT_WRITE, NULL, fd)) {
            return (ssize_t)size;
        }
    }
    return syscall(SYS_write, fd, data, size);
}

int rename(const char *from, const char *to)
{
    return fails(FAULT_RENAME, to, -1) ? -1
           : walk_pretends(FAULT_RENAME, to, -1)
               ? 0
               : (int)syscall(SYS_renameat, AT_FDCWD, from, AT_FDCWD, to);
}

int link(const char *from, const char *to)
{
    return fails(FAULT_RENAME, to, -1) ? -1
           : walk_pretends(FAULT_RENAME, to, -1)
               ? 0
               : (int)syscall(SYS_linkat, AT_FDCWD, from, AT_FDCWD, to, 0);
}

int unlink(const char *path)
{
    return fails(FAULT_UNLINK, path, -1)           ? -1
           : walk_pretends(FAULT_UNLINK, path, -1) ? 0
                                                   : (int)syscall(SYS_unlinkat, AT_FDCWD, path, 0);
}

int mkdir(const char *path, mode_t mode)
{
    return fails(FAULT_OPEN, path, -1)           ? -1
           : walk_pretends(FAULT_OPEN, path, -1) ? 0
                                                 : (int)syscall(SYS_mkdirat, AT_FDCWD, path, mode);
}

int stat(const char *restrict path, struct stat *restrict out)
{
    return fails(FAULT_STAT, path, -1) ? -1 : (int)syscall(SYS_newfstatat, AT_FDCWD, path, out, 0);
}

int lstat(const char *restrict path, struct stat *restrict out)
{
    return fails(FAULT_STAT, path, -1)
               ? -1
               : (int)syscall(SYS_newfstatat, AT_FDCWD, path, out, AT_SYMLINK_NOFOLLOW);
}

int fstat(int fd, struct stat *out)
{
    return fails(FAULT_STAT, NULL, fd) ? -1 : (int)syscall(SYS_fstat, fd, out);
}

#define DEFINE_MAP(name, offset)                                                                   \
    void *name(void *at, size_t size, int protect, int flags, int fd, offset from)                 \
    {                                                                                              \
        if (fd >= 0 && fails(FAULT_MAP, NULL, fd)) {                                               \
            return MAP_FAILED;                                                                     \
        }                                                                                          \
        void *out = (void *)syscall(SYS_mmap, at, size, protect, flags, fd, from);                 \
        walk_maps(out, size, fd);                                                                  \
        return out;                                                                                \
    }
DEFINE_MAP(mmap, off_t)
DEFINE_MAP(mmap64, off64_t)

int munmap(void *at, size_t size)
{
    walk_unmaps(at);
    return (int)syscall(SYS_munmap, at, size);
}

/* Locks alone: a descriptor's flags never fail. */
#define DEFINE_FCNTL(name)                                                                         \
    int name(int fd, int command, ...)                                                             \
    {                                                                                              \
        va_list args;                                                                              \
        va_start(args, command);                                                                   \
        void *more = va_arg(args, void *);                                                         \
        va_end(args);                                                                              \
        bool lock = command == F_SETLK || command == F_SETLKW || command == F_GETLK;               \
        if (lock && fails(FAULT_LOCK, NULL, fd)) {                                                 \
            return -1;                                                                             \
        }                                                                                          \
        if (lock && walk_is_child()) {                                                                \
            if (command == F_GETLK) {                                                              \
                ((struct flock *)more)->l_type = F_UNLCK;                                          \
            }                                                                                      \
            return 0;                                                                              \
        }                                                                                          \
        return (int)syscall(SYS_fcntl, fd, command, more);                                         \
    }
DEFINE_FCNTL(fcntl)
DEFINE_FCNTL(fcntl64)

/* Memory. What is asked for while the real functions are looked up comes from a small place of its
 * own, and stays. */
static char early[65536];
static size_t early_used;
static void *(*real_malloc)(size_t);
static void *(*real_calloc)(size_t, size_t);
static void *(*real_realloc)(void *, size_t);
static void (*real_free)(void *);

static bool find_memory(void)
{
    static bool looking;
    if (real_free) {
        return true;
    }
    if (looking) {
        return false;
    }
    looking = true;
    *(void **)&real_malloc = dlsym(RTLD_NEXT, "malloc");
    *(void **)&real_calloc = dlsym(RTLD_NEXT, "calloc");
    *(void **)&real_realloc = dlsym(RTLD_NEXT, "realloc");
    *(void **)&real_free = dlsym(RTLD_NEXT, "free");
    looking = false;
    return true;
}

static void *take_early(size_t size)
{
    size = (size + 31) & ~(size_t)15;
    if (size > sizeof early - early_used) {
        return NULL;
    }
    void *out = early + early_used;
    early_used += size;
    return out;
}

static bool is_early(const void *memory)
{
    return (const char *)memory >= early && (const char *)memory < early + sizeof early;
}

void *malloc(size_t size)
{
    return !find_memory()                ? take_early(size)
           : fails(FAULT_MEMORY, "", -1) ? NULL
                                         : real_malloc(size);
}

void *calloc(size_t count, size_t size)
{
    return !find_memory()                ? take_early(count * size)
           : fails(FAULT_MEMORY, "", -1) ? NULL
                                         : real_calloc(count, size);
}

void *realloc(void *memory, size_t size)
{
    if (!find_memory() || is_early(memory)) {
        void *out = take_early(size);
        if (out && memory) {
            memcpy(out, memory, size);
        }
        return out;
    }
    return fails(FAULT_MEMORY, "", -1) ? NULL : real_realloc(memory, size);
}

void free(void *memory)
{
    if (!is_early(memory) && find_memory()) {
        real_free(memory);
    }
}

static void map_trace(void)
{
    const char *path = getenv("RINGTALLY_TEST_TRACE");
    int fd = path ? (int)syscall(SYS_openat, AT_FDCWD, path, O_RDWR | O_CLOEXEC, 0) : -1;
    if (fd >= 0) {
        long at =
            syscall(SYS_mmap, NULL, sizeof *trace, PROT_READ | PROT_WRITE, MAP_SHARED, fd, 0L);
        trace = at == -1 ? NULL : (struct faults_trace *)at; // NOLINT
        syscall(SYS_close, fd);
    }
}

__attribute__((constructor)) static void serve(void)
{
    map_trace();
    const char *text = getenv("RINGTALLY_TEST_SERVE");
    char *end = NULL, asked = 0;
    int in = text ? (int)strtol(text, &end, 10) : -1;
    int out = text ? (int)strtol(end, NULL, 10) : -1;
    while (text && syscall(SYS_read, in, &asked, 1) == 1) {
        struct walk_word pid = {.call = WALK_PID}, ended = {.call = WALK_ENDED};
        pid.status = fork();
        if (pid.status == 0) { /* what it starts itself does not serve */
            unsetenv("RINGTALLY_TEST_SERVE");
            if (control()->walk) {
                walk_begin(in, out);
            } else {
                syscall(SYS_close, in);
                syscall(SYS_close, out);
            }
            return;
        }
        syscall(SYS_write, out, &pid, sizeof pid);
        while (waitpid(pid.status, &ended.status, 0) < 0 && errno == EINTR) {
        }
        syscall(SYS_write, out, &ended, sizeof ended);
    }
    if (text) {
        _exit(0);
    }
}
