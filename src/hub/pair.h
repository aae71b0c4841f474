/* pair.h: one bout as the local log and the hub have it, and what carries entries between them. For
 * src/hub only.
 */
#ifndef RINGTALLY_HUB_PAIR_H
#define RINGTALLY_HUB_PAIR_H

#include "hub/hub_log.h"
#include "hub/runs.h"
#include "ringtally/log/exchange.h"

/* A desk as the hub has it. */
struct pair_desk {
    char uid[33];
    int64_t id;        /* the hub's */
    struct runs there; /* numbers of its entries that are there */
};

struct pair {
    char card[48];
    int number;
    int64_t id;      /* the bout's at the hub; 0: it is not there */
    int64_t arrival; /* what came into it there up to here is in the local log */
    int64_t here;    /* the bout's in the local log; 0: it is not here */
    int64_t seen;    /* arrival in the local log up to which entries are at the hub */
    struct pair_desk *desks;
    size_t desk_count, desk_room;
    bool sealed;     /* seals of before were exchanged both ways */
    bool due;        /* something came into it at the hub */
    bool new_here;   /* or here */
    char fault[512]; /* why it is left alone; "": it is not */
};

void pair_release(struct pair *pair);

/* Many of them. */
struct pairs {
    struct pair *pair;
    size_t count, room;
};
/* NULL: it is not among them. The pointers are valid until the next pairs_add. */
struct pair *pairs_find(const struct pairs *pairs, const char *card, int number);
int pairs_add(struct pairs *pairs, const char *card, int number, struct pair **out,
              struct error *err);       /* or finds it */
void pairs_forget(struct pairs *pairs); /* all of them; the room stays */

/* Reads from the hub what is there of it. */
int pair_meet(struct pair *pair, struct hub *hub, struct error *err);

/* Card and bout into the local log, without what was logged; it is at the hub. */
int pair_head(struct pair *pair, struct hub *hub, struct log *log, struct error *err);

/* What the hub lacks of what came into the local log since the last pair_send. */
int pair_waiting(const struct pair *pair, struct log *log, struct hub_gap *out, struct error *err);
/* What each side lacks, as far as pair_meet knows. */
int pair_gap(const struct pair *pair, struct log *log, struct hub_gap *out, struct error *err);

/* All there is, both ways, after pair_meet. What both sides have is compared at each desk's newest
 * entry there; where two different entries have one name that is an error that names both. */
int pair_bring(struct pair *pair, struct hub *hub, struct log *log,
               struct error *err); /* one way */
int pair_unite(struct pair *pair, struct hub *hub, struct log *log, struct error *err);
/* What came into the local log since; and what came into the hub. */
int pair_send(struct pair *pair, struct hub *hub, struct log *log, struct error *err);
int pair_fetch(struct pair *pair, struct hub *hub, struct log *log, struct error *err);

#endif
