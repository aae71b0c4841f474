/* mono.h: the one clock that nobody sets: for deadlines, and for how long ago something was.
 *
 * It counts on while the machine sleeps where the system has such a clock (Linux: CLOCK_BOOTTIME),
 * so that a closed lid takes no time out of a round. It says nothing about the date: when.h does.
 */
#ifndef RINGTALLY_BASE_MONO_H
#define RINGTALLY_BASE_MONO_H

#include <pthread.h>
#include <stdbool.h>
#include <stdint.h>

/* Milliseconds since some moment before the program began. Never falls. */
int64_t mono_ms(void);

/* A condition for mono_wait. False: the system has none left. */
bool mono_cond_init(pthread_cond_t *out);
/* Waits until signalled or, give or take a sleep of the machine, until that moment of mono_ms; the
 * lock is held. Either may be spurious: look again. */
void mono_wait(pthread_cond_t *condition, pthread_mutex_t *lock, int64_t until_ms);

#endif
