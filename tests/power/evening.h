/* evening.h: what is done to databases while the disk is recorded, and what must be there of it
 * after a loss of power. */
#ifndef POWER_EVENING_H
#define POWER_EVENING_H

#include "disk.h"
#include "facts.h"

/* A file that was called written, besides the database. */
struct paper {
    char name[NAME_ROOM]; /* below the folder; "": none */
    size_t begun, done;   /* moments; NEVER: not done */
};

struct evening {
    char what[64];
    char folder[256]; /* where it took place; removed by evening_release */
    char db[NAME_ROOM];
    struct disk *disk;
    struct facts facts;
    size_t made;       /* the moment by which the database was there with its card */
    size_t renamed[2]; /* ... by which the card was being given, and had, its second title */
    struct paper rescue, copy;
};

#define EVENING_TITLE  "Night of the Lamps"
#define EVENING_SECOND "Night of the Lanterns"

/* A whole evening: card, a session with a checkpoint in it, a new card, a second session, entries
 * that leave as a rescue file, an import, a merge, a signature, a backup. */
void evening_play(struct evening *out, const char *base, uint64_t seed);
/* A database of a past version is brought up to date. False: there is none of that version. */
bool evening_migrate(struct evening *out, const char *base, int version);
void evening_release(struct evening *evening);

/* A tagger sits down at the last bout of the database and strikes once. The entries that the desk
 * wrote are added to `facts` (NULL: nobody asks), as saved by then. `moments`: are asked of the
 * recording. */
int evening_resume(const char *db, struct facts *facts, bool moments, struct error *err);

/* Removes a folder and all in it; makes it anew where `again`. */
void evening_clear(const char *folder, bool again);

#endif
