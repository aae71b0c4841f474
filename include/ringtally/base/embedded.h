/* embedded.h: the data files built into the program (rules, key maps, migrations). */
#ifndef RINGTALLY_BASE_EMBEDDED_H
#define RINGTALLY_BASE_EMBEDDED_H

#include <stddef.h>

struct embedded {
    const char *name; /* "rules/boxing.ini", "keymaps/us-qwerty.ini", "schema/001-log.sql" */
    const char *data; /* NUL-terminated, not counted in size */
    size_t size;      /* bytes */
};

/* In name order within a folder; the last row has name NULL. */
extern const struct embedded embedded_files[];

/* The file of that name, or NULL. */
const struct embedded *embedded_find(const char *name);

#endif
