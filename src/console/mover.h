/* mover.h: a range of the log that its operator wants on another bout, once the desk is left. */
#ifndef RINGTALLY_CONSOLE_MOVER_H
#define RINGTALLY_CONSOLE_MOVER_H

#include "ringtally/console/seat.h"
#include "ringtally/desk/desk.h"
#include "ringtally/log/log.h"

/* Whether it could be done now, while the desk is still open; else the desk says why not. */
bool mover_allows(struct desk *desk, struct log *log, int64_t now_ms);
/* Does it, and tells it on standard output with the way back. The desk's session is closed. */
int mover_move(const struct desk *desk, const struct seat_setup *setup, struct error *err);

#endif
