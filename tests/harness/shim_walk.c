/* shim_walk.c: a run of the program that stops at calls for memory, and lets a child go on without.
 */
#define _GNU_SOURCE
#include "shim_walk.h"

#include <dlfcn.h>
#include <errno.h>
#include <fcntl.h>
#include <pthread.h>
#include <stdlib.h>
#include <string.h>
#include <sys/syscall.h>
#include <sys/wait.h>
#include <unistd.h>

#define CHILD_S 50 /* that a child may take */
#define MAPS    8
#define ROOM    (1 << 20) /* for what is in them */
#define FILES   64        /* descriptors whose place is put back */

static struct {
    enum { NOBODY, WALKER, CHILD } role;
    int in, out;
    struct {
        char *at;
        size_t size;
    } map[MAPS];
} walk;

void walk_begin(int in, int out)
{
    walk.role = WALKER;
    walk.in = in;
    walk.out = out;
}

static void stop(void)
{
    if (walk.role != NOBODY) {
        _exit(walk.role == CHILD ? WALK_CHANGES : 0);
    }
}

const char *walk_path(char *out, size_t size, int fd)
{
    char link[64] = "/proc/self/fd/", digits[16];
    int count = 0;
    for (int rest = fd; count == 0 || rest > 0; rest /= 10) {
        digits[count++] = (char)('0' + rest % 10);
    }
    for (size_t at = strlen(link); count > 0; at++) {
        link[at] = digits[--count];
    }
    long got = syscall(SYS_readlinkat, AT_FDCWD, link, out, size - 1);
    if (got < 0) {
        return NULL;
    }
    out[got] = '\0';
    return out;
}

static bool ends_with(const char *path, const char *end)
{
    size_t size = path ? strlen(path) : 0;
    return size >= strlen(end) && strcmp(path + size - strlen(end), end) == 0;
}

bool walk_pretends(unsigned kind, const char *path, int fd)
{
    char full[512];
    if (walk.role == NOBODY) {
        return false;
    }
    path = path ? path : walk_path(full, sizeof full, fd);
    if (!ends_with(path, "-shm") && !(kind == FAULT_UNLINK && ends_with(path, "-wal"))) {
        stop();
    }
    return walk.role == CHILD;
}

void walk_opens(const char *path, int flags)
{
    bool beside = ends_with(path, "-shm") || ends_with(path, "-wal");
    if (walk.role != NOBODY &&
        (flags & O_TRUNC ||
         (flags & O_CREAT && !beside && syscall(SYS_faccessat, AT_FDCWD, path, F_OK) != 0))) {
        stop();
    }
}

bool walk_is_child(void)
{
    return walk.role == CHILD;
}

void walk_maps(void *at, size_t size, int fd)
{
    char full[512];
    if (walk.role != WALKER || fd < 0 || !ends_with(walk_path(full, sizeof full, fd), "-shm")) {
        return;
    }
    for (int i = 0; i < MAPS; i++) {
        if (!walk.map[i].at) {
            walk.map[i].at = at;
            walk.map[i].size = size;
            return;
        }
    }
    stop();
}

void walk_unmaps(const void *at)
{
    for (int i = 0; i < MAPS; i++) {
        if (walk.map[i].at == at) {
            walk.map[i].at = NULL;
        }
    }
}

/* What a child shares with the walker: memory that is a file's, and where files are read. */
static void keep(bool back)
{
    static char room[ROOM];
    static off_t place[FILES];
    size_t used = 0;
    for (int i = 0; i < MAPS; i++) {
        size_t size = walk.map[i].at ? walk.map[i].size : 0;
        if (size > ROOM - used) {
            stop();
        }
        if (size) {
            memcpy(back ? walk.map[i].at : room + used, back ? room + used : walk.map[i].at, size);
        }
        used += size;
    }
    for (int fd = 3; fd < FILES; fd++) {
        if (!back) {
            place[fd] = lseek(fd, 0, SEEK_CUR);
        } else if (place[fd] >= 0) {
            lseek(fd, place[fd], SEEK_SET);
        }
    }
}

bool walk_tries(const struct faults_trace *trace, int64_t call)
{
    if (walk.role != WALKER || !trace || call > FAULTS_TRACED || !trace->wanted[call - 1]) {
        return false;
    }
    struct walk_word word = {.call = (int32_t)call};
    char go = 0;
    keep(false);
    /* Not fork(): locks that the walker has know it by its thread's number, which the child would
     * not keep. */
    pid_t pid = (pid_t)syscall(SYS_fork);
    if (pid == 0) {
        walk.role = CHILD;
        alarm(CHILD_S);
        syscall(SYS_close, walk.in);
        syscall(SYS_close, walk.out);
        return true;
    }
    while (waitpid(pid, &word.status, 0) < 0 && errno == EINTR) {
    }
    keep(true);
    syscall(SYS_write, walk.out, &word, sizeof word);
    if (pid < 0 || syscall(SYS_read, walk.in, &go, 1) != 1) {
        _exit(1);
    }
    return false;
}

/* A child has only the thread that forked. */
int pthread_create(pthread_t *restrict out, const pthread_attr_t *restrict how,
                   void *(*run)(void *), void *restrict context)
{
    static int (*real)(pthread_t *restrict, const pthread_attr_t *restrict, void *(*)(void *),
                       void *restrict);
    stop();
    if (!real) {
        *(void **)&real = dlsym(RTLD_NEXT, "pthread_create");
    }
    return real(out, how, run, context);
}
