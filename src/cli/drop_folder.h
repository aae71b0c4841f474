/* drop_folder.h: the folder that `ringtally drop` keeps: what stands in it, and that nobody else
 * writes into it. For cmd_drop.c. */
#ifndef RINGTALLY_CLI_DROP_FOLDER_H
#define RINGTALLY_CLI_DROP_FOLDER_H

#include <sys/stat.h>

#include "ringtally/log/log.h"
#include "ringtally/sheet/drop_files.h"

#define DROP_FILES 160
#define DROP_LOCK  ".ringtally-drop" /* locked as long as a drop keeps the folder */

struct put_file { /* what the folder holds under a name */
    char name[DROP_NAME_SIZE];
    char *text;
    size_t size;
    int64_t changed_ms; /* UTC: when it was written last */
    bool there;
};

struct drop_folder {
    const char *path;
    struct log *const *log; /* of the database; *log NULL: not open now */
    struct put_file file[DROP_FILES];
    int files;
    struct stat folder;
    int lock;   /* descriptor; -1: not ours */
    bool dirty; /* a file is not as it should be */
    int osc;    /* socket that figures are sent through; -1: none */
};

/* Makes the folder where it is missing, takes its lock, and notes which files have gone.
 * ERROR_BUSY: another drop keeps it. */
int drop_folder_find(struct drop_folder *folder, struct error *err);
/* A drop_put: writes what differs from what the folder holds. `user` is the folder. */
int drop_folder_put(void *user, const char *name, const char *text, size_t size, struct error *err);
/* The list of all files: when each changed last, and whether it says what the log says now. */
int drop_folder_manifest(struct drop_folder *folder, const char *bout, bool fresh,
                         struct error *err);
/* Every figure once more through the socket: a message may have been lost. */
void drop_folder_send(const struct drop_folder *folder);
void drop_folder_release(struct drop_folder *folder);

#endif
