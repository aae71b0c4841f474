/* record.c: stands in the place of the calls that change files, notes them, and makes them. */
#define _GNU_SOURCE
#include <errno.h>
#include <fcntl.h>
#include <limits.h>
#include <pthread.h>
#include <stdarg.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <sys/syscall.h>
#include <unistd.h>

#include <ftw.h>

#include "disk.h"

#define FD_MAX 1024

/* What stands under a name now. */
struct entry_of_folder {
    char name[NAME_ROOM];
    int file; /* -1: nothing any more */
};

static struct {
    pthread_mutex_t lock;
    bool on;
    char folder[PATH_MAX];
    struct disk *disk;
    struct entry_of_folder *names;
    size_t name_count, name_room;
    int files[FD_MAX]; /* by descriptor: index + 1, or 0 */
    unsigned lies, syncs;
} rec = {.lock = PTHREAD_MUTEX_INITIALIZER};

static void *need(void *memory)
{
    if (!memory) {
        abort();
    }
    return memory;
}

static void *more(void *array, size_t size, size_t count, size_t *room)
{
    if (count < *room) {
        return array;
    }
    *room = *room ? *room * 2 : 64;
    return need(realloc(array, *room * size));
}

/* The name below the folder, or NULL where the path leads elsewhere. */
static const char *name_of(char full[PATH_MAX], const char *path)
{
    size_t size = strlen(rec.folder);
    int length = 0;
    if (path[0] == '/') {
        length = snprintf(full, PATH_MAX, "%s", path);
    } else {
        char here[PATH_MAX / 2];
        length = getcwd(here, sizeof here)
                     ? snprintf(full, PATH_MAX, "%s/%s", here,
                                path[0] == '.' && path[1] == '/' ? path + 2 : path)
                     : -1;
    }
    for (char *twice = full; length > 0 && (twice = strstr(twice, "//"));) {
        memmove(twice, twice + 1, strlen(twice));
    }
    size_t last = length > 0 ? strlen(full) - 1 : 0;
    if (last > 0 && full[last] == '/') {
        full[last] = '\0';
    }
    if (length < 0 || length >= PATH_MAX || strncmp(full, rec.folder, size) != 0 ||
        (full[size] != '/' && full[size] != '\0') || strlen(full + size) > NAME_ROOM - 1) {
        return NULL;
    }
    return full[size] ? full + size + 1 : full + size;
}

static struct entry_of_folder *find(const char *name)
{
    for (size_t i = 0; i < rec.name_count; i++) {
        if (strcmp(rec.names[i].name, name) == 0) {
            return &rec.names[i];
        }
    }
    rec.names = more(rec.names, sizeof *rec.names, rec.name_count, &rec.name_room);
    struct entry_of_folder *fresh = &rec.names[rec.name_count++];
    snprintf(fresh->name, sizeof fresh->name, "%s", name);
    fresh->file = -1;
    return fresh;
}

static int add_file(const char *name, bool folder)
{
    struct disk *disk = rec.disk;
    disk->files = more(disk->files, sizeof *disk->files, disk->file_count, &disk->file_room);
    struct disk_file *file = &disk->files[disk->file_count];
    *file = (struct disk_file){.folder = folder};
    snprintf(file->first, sizeof file->first, "%s", name);
    find(name)->file = (int)disk->file_count;
    return (int)disk->file_count++;
}

static struct disk_op *add(enum disk_call call, int file)
{
    struct disk *disk = rec.disk;
    disk->ops = more(disk->ops, sizeof *disk->ops, disk->count, &disk->room);
    struct disk_op *op = &disk->ops[disk->count++];
    *op = (struct disk_op){.call = call, .file = file};
    return op;
}

static void add_name(enum disk_call call, int file, const char *name, const char *other)
{
    struct disk_op *op = add(call, file);
    snprintf(op->name, sizeof op->name, "%s", name);
    snprintf(op->other, sizeof op->other, "%s", other);
}

static int load(const char *path, const struct stat *info, int type, struct FTW *at)
{
    char full[PATH_MAX];
    const char *name = name_of(full, path);
    (void)at;
    if (!name) {
        return -1;
    }
    int index = add_file(name, type == FTW_D);
    struct disk_file *file = &rec.disk->files[index];
    file->there = true;
    if (type == FTW_F) {
        file->size = (size_t)info->st_size;
        file->data = need(malloc(file->size + 1));
        int fd = (int)syscall(SYS_openat, AT_FDCWD, path, O_RDONLY | O_CLOEXEC, 0);
        if (fd < 0 || read(fd, file->data, file->size) != (ssize_t)file->size) {
            abort();
        }
        syscall(SYS_close, fd);
    }
    return 0;
}

void disk_record(const char *folder)
{
    pthread_mutex_lock(&rec.lock);
    if (rec.on || !realpath(folder, rec.folder)) {
        abort();
    }
    rec.disk = need(calloc(1, sizeof *rec.disk));
    rec.name_count = 0;
    memset(rec.files, 0, sizeof rec.files);
    if (nftw(rec.folder, load, 8, FTW_PHYS)) {
        abort();
    }
    rec.on = true;
    pthread_mutex_unlock(&rec.lock);
}

void disk_lie(unsigned every)
{
    rec.lies = every;
}

size_t disk_now(void)
{
    pthread_mutex_lock(&rec.lock);
    size_t now = rec.disk->count;
    pthread_mutex_unlock(&rec.lock);
    return now;
}

struct disk *disk_stop(void)
{
    pthread_mutex_lock(&rec.lock);
    struct disk *disk = rec.disk;
    rec.on = false;
    rec.disk = NULL;
    pthread_mutex_unlock(&rec.lock);
    return disk;
}

void disk_free(struct disk *disk)
{
    for (size_t i = 0; i < disk->count; i++) {
        free(disk->ops[i].data);
    }
    for (size_t i = 0; i < disk->file_count; i++) {
        free(disk->files[i].data);
    }
    free(disk->ops);
    free(disk->files);
    free(disk);
}

/* The file of a descriptor, or -1. The lock is held. */
static int file_of(int fd)
{
    return rec.on && fd >= 0 && fd < FD_MAX ? rec.files[fd] - 1 : -1;
}

static int opened(const char *path, int flags, unsigned mode)
{
    char full[PATH_MAX];
    pthread_mutex_lock(&rec.lock);
    const char *name = rec.on ? name_of(full, path) : NULL;
    struct stat info;
    bool there = name && lstat(path, &info) == 0;
    int fd = (int)syscall(SYS_openat, AT_FDCWD, path, flags, mode);
    if (fd >= FD_MAX) {
        abort();
    }
    if (fd >= 0) {
        rec.files[fd] = 0;
    }
    if (fd >= 0 && name) {
        int file = find(name)->file;
        if (!there || file < 0) {
            file = add_file(name, false);
            add_name(DISK_LINK, file, name, "");
        }
        rec.files[fd] = file + 1;
        if (there && flags & O_TRUNC) {
            add(DISK_TRUNCATE, file);
        }
    }
    pthread_mutex_unlock(&rec.lock);
    return fd;
}

static unsigned mode_of(int flags, va_list args)
{
    return flags & (O_CREAT | __O_TMPFILE) ? va_arg(args, unsigned) : 0;
}

int open(const char *path, int flags, ...)
{
    va_list args;
    va_start(args, flags);
    int fd = opened(path, flags, mode_of(flags, args));
    va_end(args);
    return fd;
}

int open64(const char *path, int flags, ...)
{
    va_list args;
    va_start(args, flags);
    int fd = opened(path, flags, mode_of(flags, args));
    va_end(args);
    return fd;
}

int close(int fd)
{
    pthread_mutex_lock(&rec.lock);
    if (fd >= 0 && fd < FD_MAX) {
        rec.files[fd] = 0;
    }
    int code = (int)syscall(SYS_close, fd);
    pthread_mutex_unlock(&rec.lock);
    return code;
}

static void wrote(int fd, const void *data, ssize_t size, off_t offset)
{
    int file = file_of(fd);
    if (file >= 0 && size > 0) {
        struct disk_op *op = add(DISK_WRITE, file);
        op->offset = (size_t)offset;
        op->size = (size_t)size;
        op->data = need(malloc((size_t)size));
        memcpy(op->data, data, (size_t)size);
    }
}

static ssize_t write_at(int fd, const void *data, size_t size, off_t offset)
{
    pthread_mutex_lock(&rec.lock);
    ssize_t done = syscall(SYS_pwrite64, fd, data, size, offset);
    wrote(fd, data, done, offset);
    pthread_mutex_unlock(&rec.lock);
    return done;
}

ssize_t pwrite(int fd, const void *data, size_t size, off_t offset)
{
    return write_at(fd, data, size, offset);
}

ssize_t pwrite64(int fd, const void *data, size_t size, off64_t offset)
{
    return write_at(fd, data, size, offset);
}

ssize_t write(int fd, const void *data, size_t size)
{
    pthread_mutex_lock(&rec.lock);
    off_t offset = file_of(fd) >= 0 ? lseek(fd, 0, SEEK_CUR) : 0;
    ssize_t done = syscall(SYS_write, fd, data, size);
    wrote(fd, data, done, offset);
    pthread_mutex_unlock(&rec.lock);
    return done;
}

static int cut(int fd, off_t size)
{
    pthread_mutex_lock(&rec.lock);
    int code = (int)syscall(SYS_ftruncate, fd, size);
    int file = file_of(fd);
    if (code == 0 && file >= 0) {
        add(DISK_TRUNCATE, file)->offset = (size_t)size;
    }
    pthread_mutex_unlock(&rec.lock);
    return code;
}

int ftruncate(int fd, off_t size)
{
    return cut(fd, size);
}

int ftruncate64(int fd, off64_t size)
{
    return cut(fd, size);
}

static int sync_file(int fd)
{
    pthread_mutex_lock(&rec.lock);
    int file = file_of(fd);
    if (file >= 0 && (!rec.lies || ++rec.syncs % rec.lies)) {
        add(DISK_SYNC, file);
    }
    pthread_mutex_unlock(&rec.lock);
    return 0;
}

int fsync(int fd)
{
    return sync_file(fd);
}

int fdatasync(int fd)
{
    return sync_file(fd);
}

int unlink(const char *path)
{
    char full[PATH_MAX];
    pthread_mutex_lock(&rec.lock);
    const char *name = rec.on ? name_of(full, path) : NULL;
    int code = (int)syscall(SYS_unlinkat, AT_FDCWD, path, 0);
    int cause = errno;
    if (code == 0 && name) {
        struct entry_of_folder *entry = find(name);
        add_name(DISK_UNLINK, entry->file, name, "");
        entry->file = -1;
    }
    pthread_mutex_unlock(&rec.lock);
    errno = cause;
    return code;
}

int rename(const char *from, const char *to)
{
    char full[2][PATH_MAX];
    pthread_mutex_lock(&rec.lock);
    const char *name = rec.on ? name_of(full[0], from) : NULL;
    const char *other = rec.on ? name_of(full[1], to) : NULL;
    int code = (int)syscall(SYS_renameat, AT_FDCWD, from, AT_FDCWD, to);
    int cause = errno;
    if (code == 0 && name && other) {
        int file = find(name)->file;
        add_name(DISK_RENAME, file, name, other);
        find(name)->file = -1;
        find(other)->file = file;
    }
    pthread_mutex_unlock(&rec.lock);
    errno = cause;
    return code;
}

int link(const char *from, const char *to)
{
    char full[2][PATH_MAX];
    pthread_mutex_lock(&rec.lock);
    const char *name = rec.on ? name_of(full[0], from) : NULL;
    const char *other = rec.on ? name_of(full[1], to) : NULL;
    int code = (int)syscall(SYS_linkat, AT_FDCWD, from, AT_FDCWD, to, 0);
    int cause = errno;
    if (code == 0 && name && other) {
        int file = find(name)->file;
        add_name(DISK_LINK, file, other, "");
        find(other)->file = file;
    }
    pthread_mutex_unlock(&rec.lock);
    errno = cause;
    return code;
}

int mkdir(const char *path, mode_t mode)
{
    char full[PATH_MAX];
    pthread_mutex_lock(&rec.lock);
    const char *name = rec.on ? name_of(full, path) : NULL;
    int code = (int)syscall(SYS_mkdirat, AT_FDCWD, path, mode);
    int cause = errno;
    if (code == 0 && name) {
        add_name(DISK_LINK, add_file(name, true), name, "");
    }
    pthread_mutex_unlock(&rec.lock);
    errno = cause;
    return code;
}
