/* disk.h: everything that this process does to the files below one folder, and what a disk could
 * hold of it after a loss of power.
 *
 * Recorded are the calls of the C library that reach the kernel (record.c stands in their place),
 * so SQLite's own layer runs as it ships, and what we write without it (rescue files, backups) is
 * seen as well. Syncs are recorded, and skipped: a disk that forgets is what is tried here.
 */
#ifndef POWER_DISK_H
#define POWER_DISK_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#define NAME_ROOM 96

enum disk_call {
    DISK_WRITE,
    DISK_TRUNCATE,
    DISK_SYNC, /* of a file; of a folder where `folder` */
    DISK_LINK, /* a name for a file, or a folder: made, linked or renamed to */
    DISK_UNLINK,
    DISK_RENAME,
};

struct disk_op {
    enum disk_call call;
    int file; /* index in disk.files */
    size_t offset, size;
    unsigned char *data;
    char name[NAME_ROOM], other[NAME_ROOM]; /* below the folder; `other`: what it becomes */
};

/* A file or a folder, whatever names it has. */
struct disk_file {
    bool folder;
    unsigned char *data; /* what it held when the recording began, and was durable */
    size_t size;
    char first[NAME_ROOM]; /* its name then, or the first that it got */
    bool there;            /* it was there then */
};

struct disk {
    struct disk_op *ops;
    size_t count, room;
    struct disk_file *files;
    size_t file_count, file_room;
};

/* From now on; what is in the folder is durable. Ends in disk_stop. One recording at a time. */
void disk_record(const char *folder);
/* How many calls were recorded so far: a moment. */
size_t disk_now(void);
struct disk *disk_stop(void);
/* From now on the disk says of every so many syncs that it was done, and it was not; 0: of none. */
void disk_lie(unsigned every);
void disk_free(struct disk *disk);

/* What becomes of what was not synced. */
enum disk_loss {
    LOSS_ALL,     /* nothing of it is there */
    LOSS_NONE,    /* all of it is */
    LOSS_LATE,    /* it was written in order, up to some call, which is torn */
    LOSS_FILES,   /* that of some files is there, of others not */
    LOSS_SECTORS, /* any sector is as any of the writes left it, or as it was */
    LOSS_COUNT
};
extern const char *const disk_loss_names[LOSS_COUNT];

/* Writes into the empty folder `to` what the disk could hold where the power went before the call
 * `moment`. Where a write was torn a sector may be garbage: only what was written of it, or, where
 * `careless`, all of it. Half the images make a name durable only by a sync of its folder, the
 * others by one of the file, too, as Linux does. */
void disk_build(const struct disk *disk, size_t moment, enum disk_loss loss, bool careless,
                uint64_t seed, const char *to);

/* xorshift64*: the same numbers everywhere, below `limit` (0: any). */
uint64_t disk_draw(uint64_t *seed, uint64_t limit);

#endif
