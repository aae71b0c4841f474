/* rescue.h: entries that the database does not hold leave as a file of the portable form. */
#ifndef RINGTALLY_CONSOLE_RESCUE_H
#define RINGTALLY_CONSOLE_RESCUE_H

#include <stddef.h>

#include "ringtally/log/portable.h"

/* What the file says besides the entries, and where it may lie. */
struct rescue {
    const char *db; /* path of the database: the file lies beside it if it can */
    bool stalled;   /* that disk does not answer: another one comes first */
    const struct card *card;
    const struct bout *bout;
    const struct desk_row *desks;
    int desk_count;
    const char *uid; /* of the desk that leaves; part of the name */
};

/* Writes it beside the database, else in the home folder, else in the folder for temporary files,
 * under a name that is free there, for its owner alone. *path (malloc'd, the caller frees) says
 * where it lies. An error: nothing could be written anywhere. */
int rescue_write(char **path, const struct rescue *rescue, const struct entry *entries,
                 size_t count, struct error *err);

#endif
