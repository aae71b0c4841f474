/* hub_place.h: a folder for a log that lasts as long as a command. */
#ifndef RINGTALLY_CLI_HUB_PLACE_H
#define RINGTALLY_CLI_HUB_PLACE_H

#include "ringtally/base/error.h"

struct hub_place_dir {
    char folder[4096], path[4200]; /* of the log */
};

/* Under $TMPDIR, its owner's alone. */
int hub_place_new(struct hub_place_dir *out, struct error *err);
/* Removes the log and all that stands beside it. */
void hub_place_remove(const struct hub_place_dir *place);

#endif
