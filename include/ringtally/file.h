/* file.h: whole files in and out. */
#ifndef RINGTALLY_FILE_H
#define RINGTALLY_FILE_H

#include <stddef.h>

#include "ringtally/error.h"

/* Reads a whole file of at most 64 MiB; the caller frees *out (NUL-terminated). "-" is standard
 * input. */
int file_read(char **out, size_t *size, const char *path, struct error *err);

/* Writes the file beside its name and renames it, so that no reader ever sees half of it. A
 * device or a pipe is written into. */
int file_write(const char *path, const char *text, size_t size, struct error *err);

#endif
