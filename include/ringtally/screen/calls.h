/* calls.h: strikes called to a trainee, over the panel of a rehearsal. Pure. */
#ifndef RINGTALLY_SCREEN_CALLS_H
#define RINGTALLY_SCREEN_CALLS_H

#include "ringtally/bout/strike.h"
#include "ringtally/screen/frame.h"

/* The newest calls, the last one newest: it stands out, those before it fade. `left_s` = seconds to
 * the end; below 0: not said. */
void calls_compose(struct frame *frame, const struct strike *called, size_t count, int left_s);

#endif
