/* recording.h: the note by which a desk says that it tags from a recording: the desk's moments
 * (at_ms) are the recording's media time from then on, counted from the note's own at_ms, which
 * stands for the first frame. Round and round clock of what it tags follow from its bells and from
 * that, by computation (fold.h). */
#ifndef RINGTALLY_BOUT_RECORDING_H
#define RINGTALLY_BOUT_RECORDING_H

#include <stdbool.h>
#include <stdint.h>

#include "ringtally/bout/entry.h"

struct recording {
    int32_t rate_mhz;      /* frames in a thousand seconds; 0: not known */
    char name[TEXT_BYTES]; /* of the file, without its folders; cut where it is too long */
};

/* "recording at 29.970 frames a second: NAME". Cuts recording->name to what stands in it. */
void recording_print(char out[TEXT_BYTES], struct recording *recording);
/* False: the entry is no such note. */
bool recording_read(struct recording *out, const struct entry *entry);
/* The number of the frame, from 0, at so many milliseconds; -1 where the rate is not known. */
int64_t recording_frame(const struct recording *recording, int64_t media_ms);

#endif
