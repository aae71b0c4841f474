/* recorder.h: writes a key script while keys come, in a thread of its own: the reader of keys never
 * waits for it. */
#ifndef RINGTALLY_CONSOLE_RECORDER_H
#define RINGTALLY_CONSOLE_RECORDER_H

#include <stdint.h>

#include "ringtally/base/error.h"
#include "ringtally/desk/keymap.h"

struct recorder;

/* Where a file of that name has something in it already, it is left alone and a name beside it is
 * taken ("NAME-2.keys"), which recorder_close tells on standard error. */
int recorder_open(struct recorder **out, const char *path, struct error *err);
/* NULL takes nothing. */
void recorder_key(struct recorder *recorder, int64_t at_ms, int32_t key, enum key_press press);
/* Writes what waits and ends. An error on the way is told here. */
int recorder_close(struct recorder *recorder, struct error *err);

#endif
