/* gate.h: what of a bout's log may be told while a producer holds some kinds of it. Pure.
 *
 * The gate stands before the fold: it leaves out of the entries what is held, and everything that
 * is made of the rest (counts, remarks, lists, streams, files) can tell nothing of it. A strike
 * that knocked down is told as the strike that it is, without the mark; an incident, a result or a
 * score that is held is not told at all.
 *
 * What is held goes on air by an entry of its own (ENTRY_RELEASE), which names its subject and
 * covers that as it stands at that moment: what is changed later waits anew. The newest such entry
 * about a subject holds, from whichever desk. What is taken back is off the air at once.
 */
#ifndef RINGTALLY_TALLY_GATE_H
#define RINGTALLY_TALLY_GATE_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#include "ringtally/base/error.h"
#include "ringtally/tally/fold.h"

enum gate_kind {
    GATE_KNOCKDOWNS, /* the mark of a strike; "knocked down" and counts among the incidents */
    GATE_INCIDENTS,  /* all others: warnings, deductions, fouls ... */
    GATE_RESULTS,    /* how the bout ended */
    GATE_DECISIONS,  /* what was announced, judges' scores, rounds that officials gave */
    GATE_KINDS
};
extern const char *const gate_kind_names[GATE_KINDS]; /* "knockdowns" ... */
#define GATE_ALL ((1u << GATE_KINDS) - 1)

/* "knockdowns,results" or "all" as a set: bit 1 << kind. */
int gate_parse(unsigned *out, const char *words, struct error *err);

/* What documents say of the gate. */
struct gate_state {
    unsigned holds;          /* the kinds that are held */
    int waiting[GATE_KINDS]; /* things that somebody could release now; others' own tags aside */
    uint64_t released;       /* a number for what is released: another one, another telling */
    int64_t delay_ms;        /* so much later than it happens all is told */
};

/* The bout as it may be told. `all` is the fold of its whole log; *out, a new fold of the same plan
 * and bout, belongs to the caller. 0 or ERROR_MEMORY. */
int gate_fold(struct fold **out, struct gate_state *state, const struct fold *all,
              const struct bout *bout, unsigned holds, struct error *err);

/* A thing that a kind of the gate speaks of, as it stands. */
struct gate_item {
    enum gate_kind kind;
    struct entry_name name; /* of the subject */
    struct entry now;
    bool live;            /* false: taken back */
    bool released;        /* as it stands now */
    int64_t since_ms;     /* utc_ms of the entry that says so now */
    struct entry_name by; /* the newest release or withholding; ENTRY_NONE: none */
};
/* All of them, in the order of their first entries; *out is malloc'd. */
int gate_items(struct gate_item **out, size_t *count, const struct fold *all, struct error *err);

/* The text of an ENTRY_RELEASE about a subject: "UID-SEQ KIND". */
void gate_text(char out[TEXT_BYTES], const struct desk_row *desks, struct entry_name subject,
               enum gate_kind kind);

#endif
