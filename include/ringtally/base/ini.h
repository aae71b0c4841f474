/* ini.h: INI text read through inih, with file and line in every complaint. */
#ifndef RINGTALLY_BASE_INI_H
#define RINGTALLY_BASE_INI_H

#include <stddef.h>

#include "ringtally/base/buf.h"
#include "ringtally/base/error.h"

struct ini_place {
    const char *file; /* as the user named it */
    int line;         /* from 1 */
};

/* Called for each `key = value`. Returns 0, or what error_set returned; ini_fail makes the message.
 */
typedef int ini_visitor(void *user, const char *section, const char *key, const char *value,
                        const struct ini_place *place, struct error *err);

/* Reads the whole text. UTF-8 only (a BOM is passed over); lines of up to 190 bytes. Stops at the
 * first error. */
int ini_read(const char *text, size_t size, const char *file, ini_visitor *visitor, void *user,
             struct error *err);

/* The same, but reads on behind an error where `faults` is given: what the visitor and the reader
 * complain of is added to it, each on its line, and 0 is returned; memory alone ends it. */
int ini_read_all(const char *text, size_t size, const char *file, ini_visitor *visitor, void *user,
                 struct buf *faults, struct error *err);
/* Adds one more complaint. */
void ini_fault(struct buf *faults, const char *line);

/* "FILE:LINE: reason", ERROR_FAILED. */
int ini_fail(const struct ini_place *place, struct error *err, const char *format, ...)
    PRINTF_LIKE(3, 4);

/* A whole number within low..high, else an error that names key and value. */
int ini_int(int *out, const char *key, const char *value, int low, int high,
            const struct ini_place *place, struct error *err);

/* A text through text_clean, of at most size - 1 bytes, not empty. */
int ini_text(char *out, size_t size, const char *key, const char *value,
             const struct ini_place *place, struct error *err);

#endif
