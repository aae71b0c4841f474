/* times.c: a program under test whose clocks the test sets. */
#include "times.h"

#include <fcntl.h>
#include <stdio.h>
#include <sys/mman.h>
#include <unistd.h>

#include "base.h"

void times_open(struct times *times, const char *folder)
{
    char path[300];
    snprintf(path, sizeof path, "%s/time", folder);
    snprintf(times->file, sizeof times->file, "RINGTALLY_TEST_TIME=%s", path);
    snprintf(times->preload, sizeof times->preload, "LD_PRELOAD=%s", SHIM_TIME);
    int fd = open(path, O_RDWR | O_CREAT | O_TRUNC | O_CLOEXEC, 0600);
    if (fd < 0 || ftruncate(fd, 16) != 0) {
        harness_die(path);
    }
    void *mapped = mmap(NULL, 16, PROT_READ | PROT_WRITE, MAP_SHARED, fd, 0);
    close(fd);
    if (mapped == MAP_FAILED) {
        harness_die("mmap");
    }
    times->shift = mapped;
    times->env[0] = times->preload;
    times->env[1] = times->file;
    times->env[2] = NULL;
}

void times_close(struct times *times)
{
    munmap((void *)(uintptr_t)times->shift, 16);
}

void times_step(struct times *times, int64_t ms)
{
    times->shift[0] += ms;
}

void times_pass(struct times *times, int64_t ms)
{
    times->shift[1] += ms;
}
