/* watch.h: one bout as the feed holds it: the fold, what came in which order, and the documents
 * made of it. Private to the room; the board's lock guards all of it.
 */
#ifndef RINGTALLY_FEED_WATCH_H
#define RINGTALLY_FEED_WATCH_H

#include "feed/doc.h"
#include "ringtally/data/air.h"
#include "ringtally/feed/feed.h"
#include "ringtally/log/log_watch.h"
#include "ringtally/sheet/sheet.h"
#include "ringtally/bout/sign.h"

#define WATCH_RECENT     256  /* events kept as text */
#define WATCH_REFRESH_MS 5000 /* a document of a live bout is never older than this */

enum watch_what {
    WATCH_COUNTS,
    WATCH_HEADLINE,
    WATCH_SHEET,
    WATCH_REMARKS,
    WATCH_COACH_RED, /* HTML */
    WATCH_COACH_BLUE,
    WATCH_DOCS
};

/* A document made when first asked for, and good for one generation. */
struct slot {
    struct doc *doc;
    int64_t generation;
};

struct watch {
    char card_id[48];
    int number;
    struct bout bout;
    struct card card;
    struct rules rules;
    struct former former; /* as it was when this bout was first told; see has_former */
    bool has_former;
    struct clock_plan plan;

    struct desk_row *desks;
    int desk_count;
    int64_t arrival;         /* what was read of the log */
    int64_t *marks;          /* highest sequence number known of each desk: for positions */
    struct desk_sign *signs; /* of each desk */
    const struct air *air;   /* what is kept back, and for how long */
    struct late_line late;   /* signs that are not told yet */
    struct fold *all;        /* of the whole log, where something is held; else NULL */
    struct fold *fold;       /* of what may be told */
    struct gate_state gate;
    struct entry_name *arrived; /* in the order in which this feed came to know them */
    size_t arrived_count, arrived_room;
    struct doc *recent[WATCH_RECENT]; /* event text by index in `arrived`, modulo */

    struct seal_state seal; /* where it is signed */

    bool loaded;        /* all above is there */
    bool missing;       /* there is no such bout */
    int64_t epoch;      /* changes when it was loaded anew: positions in `arrived` are void */
    int64_t retold;     /* changes when what was told is void, and all is told again */
    int64_t generation; /* of the documents */
    int64_t made_ms;    /* monotonic: of the generation */
    struct clock_face face;
    uint64_t states; /* of the desks, in one number */
    bool live;       /* a desk is open on it */

    struct slot slot[WATCH_DOCS][ROUND_MAX + 1]; /* [0]: the whole bout */
    struct slot counts_event, beat_event;
    int listeners;
    int64_t used_ms; /* monotonic: last asked for */
};

/* NULL: out of memory. */
struct watch *watch_new(const char *card_id, int number, const struct air *air);
void watch_free(struct watch *watch);
/* Forgets what was read; the documents too. */
void watch_reset(struct watch *watch);

/* What a look at the database brings. Reading needs no lock: only the reader changes what it
 * reads; taking does. */
struct watch_news {
    bool anew;    /* bout, card or desks are not as known: all is read from the start */
    bool missing; /* no such bout */
    struct bout bout;
    struct card card;
    struct rules rules;
    struct desk_row *desks;
    int desk_count;
    int64_t *marks;
    int64_t arrival;
    struct entry *entries;
    size_t entry_count;
    struct desk_sign *signs;
    struct seal_state seal;
};
int watch_read(struct watch_news *out, const struct watch *watch, struct log *log,
               struct error *err);
/* True: something a reader sees has changed. */
int watch_take(struct watch *watch, struct watch_news *news, bool *changed, struct error *err);
void watch_news_release(struct watch_news *news);

/* What former bouts have, for records: takes it over. Documents come without until it is there.
 * True: a reader may see a difference. */
bool watch_former(struct watch *watch, struct former *former);

/* Signs of life anew, and time: bumps the generation where a reader sees a difference. */
bool watch_tick(struct watch *watch, struct desk_sign *signs, int64_t monotonic_ms);

struct sheet_view watch_view(const struct watch *watch, int round);

/* How fresh all is, for every answer's head, in seconds with one digit. */
struct freshness {
    char entry[24];  /* age of the newest entry; "": there is none */
    char desks[120]; /* "red=live;0.4, blue=lost;93.0, clock=none" */
    bool settled;    /* signed, and no desk is open */
};
struct freshness watch_freshness(const struct watch *watch);

/* The document, held for the caller. ERROR_USAGE: no such round. */
int watch_doc(struct watch *watch, enum watch_what what, int round, struct doc **out,
              struct error *err);
/* The counts of a window of the bout. ERROR_MISSING: there is no knockdown, or no such entry. */
int watch_window(const struct watch *watch, const struct window_ask *window, struct doc **out,
                 struct error *err);

/* The position behind arrived[0..count) of which those at or below the marks were told, as an
 * event's id: how many, and ".uid-seq" for each desk that wrote. */
void watch_position(struct buf *out, const struct watch *watch, size_t count, const int64_t *marks);
/* Reads a position into marks[desk_count]. False: it is none, or entries came in below it since:
 * then marks are 0. */
bool watch_seek(const struct watch *watch, const char *position, int64_t *marks);
/* Entries behind the marks as one JSON document. `position` NULL: all. */
int watch_log(const struct watch *watch, const char *position, struct doc **out, struct error *err);
/* An event of the entry arrived[index]; `marks` are those behind it. */
struct doc *watch_event(const struct watch *watch, size_t index, const int64_t *marks);

#endif
