/* drop_files.h: the small files that graphics systems watch, as names and contents. Pure.
 *
 * counts.json and counts.csv are what `ringtally counts` writes for the whole bout. A text file
 * holds one figure and nothing else, no line break either:
 *   clock.txt ("1:12", what is left of round or rest), clock-state.txt, round.txt, remark.txt (the
 *   sentence to be told first; empty where there is none), and for each corner
 *   red-name.txt -landed -attempted -accuracy ("41.7%") -output ("23.4" attempted a minute)
 *   -knockdowns, red-to-head-landed.txt -to-body -to-leg, red-hands-landed.txt -knees -legs
 * -elbows, and the same with -attempted. A figure that is not defined yet, or of a corner that
 * nobody tags, is "-"; red-tagged.txt says "yes", "partly" (time with nobody at the desk) or "no".
 *
 * Of the round that is on (or was last) and of the last minute of running clock: red-round-landed
 * -attempted -accuracy -output -knockdowns, red-minute-landed ...; with a window in the view
 * red-window-landed ... . bout.txt and notice.txt. All these texts once more in one place each:
 * table.csv (a row of names, a row of values), table.xml, table.json. headline.json as the feed
 * has it.
 */
#ifndef RINGTALLY_SHEET_DROP_FILES_H
#define RINGTALLY_SHEET_DROP_FILES_H

#include "ringtally/insight/remarks.h"
#include "ringtally/sheet/sheet.h"

#define DROP_NAME_SIZE 32
#define DROP_MANIFEST  "manifest.json"

/* Takes one file. What is not 0 ends the giving and is returned. */
typedef int drop_put(void *user, const char *name, const char *text, size_t size,
                     struct error *err);

/* Gives every file but the two about the folder's own state, always in the same order. */
int drop_files(drop_put *put, void *user, const struct sheet_view *view,
               const struct remarks *remarks, struct error *err);

enum drop_state {
    DROP_LIVE,         /* current, and every official desk gives signs of life */
    DROP_DESK_MISSING, /* current, but one does not: no news is not a quiet round */
    DROP_UNREADABLE,   /* the database cannot be read: the files are as of counts_ms */
    DROP_STOPPED,      /* nobody keeps the folder current */
    DROP_STATES
};
extern const char *const drop_state_names[DROP_STATES]; /* "live" "desk_missing" ... */

#define DROP_DESKS 3 /* official for red, for blue, for the clock */

struct drop_status {
    const struct bout *bout;
    enum drop_state state;
    int64_t alive_ms;    /* UTC: when this was written */
    int32_t every_ms;    /* how often it is; older than a few of these: dead */
    int64_t counts_ms;   /* UTC: moment that the other files speak of; 0: never written */
    int64_t newest_ms;   /* UTC of the newest entry; 0: none */
    const char *trouble; /* one line; NULL: none */
    struct drop_desk {
        const char *name; /* NULL: no desk is official for it */
        struct desk_sign sign;
        int64_t newest_ms; /* UTC of its newest entry; 0: none */
    } desk[DROP_DESKS];
};

/* status.json (schema/status.schema.json) and status.txt, the state's name alone. */
int drop_status_files(drop_put *put, void *user, const struct drop_status *status,
                      struct error *err);

/* What the folder holds. */
struct drop_listed {
    const char *name;
    size_t size;        /* bytes */
    int64_t changed_ms; /* UTC */
    bool fresh;         /* it says what the log says now */
};
/* manifest.json (schema/manifest.schema.json): the files, and which of them are fresh. */
int drop_manifest_file(drop_put *put, void *user, const char *bout,
                       const struct drop_listed *listed, int count, struct error *err);

#endif
