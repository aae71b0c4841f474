/* mono.c: the one clock that nobody sets. */
#include "ringtally/base/mono.h"

#include <time.h>

static int64_t read_ms(clockid_t id)
{
    struct timespec now = {0};
    clock_gettime(id, &now);
    return (int64_t)now.tv_sec * 1000 + now.tv_nsec / 1000000;
}

int64_t mono_ms(void)
{
#ifdef CLOCK_BOOTTIME
    return read_ms(CLOCK_BOOTTIME);
#else
    return read_ms(CLOCK_MONOTONIC);
#endif
}

bool mono_cond_init(pthread_cond_t *out)
{
    pthread_condattr_t monotonic;
    if (pthread_condattr_init(&monotonic)) {
        return false;
    }
    bool done = pthread_condattr_setclock(&monotonic, CLOCK_MONOTONIC) == 0 &&
                pthread_cond_init(out, &monotonic) == 0;
    pthread_condattr_destroy(&monotonic);
    return done;
}

void mono_wait(pthread_cond_t *condition, pthread_mutex_t *lock, int64_t until_ms)
{
    /* Conditions know no clock that counts a sleep: the same span on the one they know. */
    int64_t span_ms = until_ms - mono_ms();
    int64_t moment_ms = read_ms(CLOCK_MONOTONIC) + (span_ms > 0 ? span_ms : 0);
    struct timespec moment = {.tv_sec = (time_t)(moment_ms / 1000),
                              .tv_nsec = (long)(moment_ms % 1000) * 1000000};
    pthread_cond_timedwait(condition, lock, &moment);
}
