/* moved.h: the notes that entries moved to another bout leave in both logs. */
#ifndef RINGTALLY_BOUT_MOVED_H
#define RINGTALLY_BOUT_MOVED_H

#include "ringtally/bout/card.h"
#include "ringtally/bout/entry.h"

/* In the bout that they left: "moved to CARD/N", and in the one they came to: "moved here from
 * CARD/N". `value` is how many. The notes of one move share their utc_ms. */
struct entry moved_to(const struct bout *to, int64_t count);
struct entry moved_from(const struct bout *from, int64_t count);
bool moved_is_to(const struct entry *entry, const struct bout *to);
bool moved_is_from(const struct entry *entry, const struct bout *from);
/* Either, whatever the other bout. */
bool moved_is_note(const struct entry *entry);

#endif
