/* file.h: whole files in and out. */
#ifndef RINGTALLY_BASE_FILE_H
#define RINGTALLY_BASE_FILE_H

#include <stddef.h>

#include "ringtally/base/error.h"

/* Reads a whole file of at most 64 MiB; the caller frees *out (NUL-terminated). "-" is standard
 * input. */
int file_read(char **out, size_t *size, const char *path, struct error *err);

/* Writes the file beside its name and renames it, so that no reader ever sees half of it, and what
 * is there after a power cut is the old file or the new one. A file that is there keeps its
 * permissions. A device or a pipe is written into; a link to a file is refused. */
int file_write(const char *path, const char *text, size_t size, struct error *err);
/* The same; where it is new, only its owner may read it. */
int file_write_private(const char *path, const char *text, size_t size, struct error *err);
/* Makes a file of a name that must be free, for its owner alone; durable when it returns 0. */
int file_write_new(const char *path, const char *text, size_t size, struct error *err);

/* A name that was made or changed is durable once its folder is. A folder that cannot be opened or
 * synced (some network disks) is no failure: the file itself is there. */
void file_sync_name(const char *path);

/* Makes the folders on the way to a file where they are missing, for their owner alone. */
int file_make_folders(const char *path, struct error *err);

/* file_write for a file in a folder that others watch: the name beside begins with a dot, and
 * nothing is forced to disk. For what is written again within a second: forcing it would hold up
 * the database beside it, and after a power cut it is made anew. */
int file_replace(const char *folder, const char *name, const char *text, size_t size,
                 struct error *err);

#endif
