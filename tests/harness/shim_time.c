/* shim_time.c: preloaded into a program under test: the clocks as the test wants them. The file
 * that RINGTALLY_TEST_TIME names holds two numbers of eight bytes: milliseconds by which the wall
 * clock is set, and milliseconds that have passed besides (on every clock, as after a sleep of the
 * machine).
 */
#define _GNU_SOURCE
#include <fcntl.h>
#include <stdint.h>
#include <stdlib.h>
#include <sys/mman.h>
#include <sys/syscall.h>
#include <time.h>
#include <unistd.h>

static const volatile int64_t *shift(void)
{
    static const volatile int64_t none[2];
    static const volatile int64_t *known;
    const volatile int64_t *now = __atomic_load_n(&known, __ATOMIC_ACQUIRE);
    if (now) {
        return now;
    }
    const char *path = getenv("RINGTALLY_TEST_TIME");
    int fd = path ? open(path, O_RDONLY | O_CLOEXEC) : -1;
    void *mapped = fd < 0 ? MAP_FAILED : mmap(NULL, 16, PROT_READ, MAP_SHARED, fd, 0);
    if (fd >= 0) {
        close(fd);
    }
    now = mapped == MAP_FAILED ? none : mapped;
    __atomic_store_n(&known, now, __ATOMIC_RELEASE);
    return now;
}

int clock_gettime(clockid_t id, struct timespec *out)
{
    long code = syscall(SYS_clock_gettime, id, out);
    if (code == 0 && (id == CLOCK_REALTIME || id == CLOCK_BOOTTIME)) {
        int64_t ms = shift()[1] + (id == CLOCK_REALTIME ? shift()[0] : 0);
        out->tv_sec += (time_t)(ms / 1000);
        out->tv_nsec += (long)(ms % 1000) * 1000000;
        if (out->tv_nsec < 0) {
            out->tv_nsec += 1000000000;
            out->tv_sec--;
        } else if (out->tv_nsec >= 1000000000) {
            out->tv_nsec -= 1000000000;
            out->tv_sec++;
        }
    }
    return (int)code;
}
