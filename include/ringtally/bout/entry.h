/* entry.h: one entry of a bout's log.
 *
 * The log is append-only. An entry is named by (desk, sequence number) and never changed; a
 * correction is a newer entry that names its subject and carries the whole content as it is to be
 * from now on. So what a subject is now is what the newest entry about it says, two logs are merged
 * by their union, and every older figure stays visible.
 *
 * Entries are values: no member is owned by anybody.
 */
#ifndef RINGTALLY_BOUT_ENTRY_H
#define RINGTALLY_BOUT_ENTRY_H

#include <stdbool.h>
#include <stdint.h>

#include "ringtally/bout/strike.h"

#define ROUND_MAX      20  /* highest round number of a bout, extension rounds included */
#define ENTRY_INSERTED 1   /* `value` of a strike that was put in afterwards */
#define TEXT_BYTES     120 /* an entry's free text, with its NUL */
#define MOMENT_MAX     INT64_C(253402300800000) /* milliseconds: the year 10000 */

enum entry_kind {
    ENTRY_STRIKE,
    ENTRY_STANCE,   /* strike.corner changed to strike.stance */
    ENTRY_POSITION, /* both are in strike.position now */
    ENTRY_CLOCK,    /* code start, stop, nudge, jump */
    ENTRY_INCIDENT, /* of strike.corner; code says which */
    ENTRY_SCORE,  /* a judge's score of `round`, or the corner that a tied judge names: officials.h
                   */
    ENTRY_RESULT, /* code ended or announced: officials.h */
    ENTRY_NOTE,   /* text */
    ENTRY_OFFICIAL, /* from now on the entry's desk is official for what code says: red, blue, clock
                     */
    ENTRY_SIGN,     /* code sign or reopen */
    ENTRY_VIEW,     /* code hidden or seen: the tagger's view of strike.corner. Hidden lasts until
                       seen, or until the next strike of that corner */
    ENTRY_RELEASE,  /* code released or withheld: whether what `text` names may go on air
                       (tally/gate.h) */
    ENTRY_KIND_COUNT
};

enum entry_act {
    ACT_ADD,     /* a new subject */
    ACT_REFINE,  /* a mark put on it while tagging live: the subject is now as this entry says */
    ACT_AMEND,   /* a correction: the subject is now as this entry says */
    ACT_VOID,    /* the subject no longer counts; content as it last was */
    ACT_RESTORE, /* the subject counts again, as this entry says */
    ACT_COUNT
};

enum entry_code {
    CODE_NONE,
    CODE_START, /* clock: round `round` runs from elapsed_ms */
    CODE_STOP,  /* clock: stopped at elapsed_ms */
    CODE_NUDGE, /* clock: `value` milliseconds more elapsed (less where negative) */
    CODE_WARNING,
    CODE_DEDUCTION, /* value = points */
    CODE_COUNT,     /* a standing count */
    CODE_KNOCKED_DOWN,
    CODE_THROW,
    CODE_INJURY,
    CODE_ADMONITION, /* lighter than a warning, where the rules know both */
    CODE_FOUL,       /* text = its kind by the rules' list */
    CODE_RED,
    CODE_BLUE,
    CODE_CLOCK,
    CODE_SIGN,
    CODE_REOPEN,
    CODE_NAMED,     /* score: a tied judge names strike.corner */
    CODE_AWARDED,   /* score: the officials gave `round` to strike.corner */
    CODE_WEIGHED,   /* score: strike.corner weighed `value` grams */
    CODE_ENDED,     /* result: how the bout ended */
    CODE_ANNOUNCED, /* result: as announced */
    CODE_HIDDEN,    /* view: blocked from here on */
    CODE_SEEN,      /* view: free again */
    CODE_JUMP,      /* clock: the machine's wall clock was stepped by `value` ms; no time passed */
    CODE_RELEASED,  /* release: may go on air, as it stands at this entry */
    CODE_WITHHELD,  /* release: may not, after all */
    CODE_NOTED,     /* incident: text = what else is to be remembered of the corner */
    CODE_ALL
};

/* A name of an entry: the desk by its index in the bout's desk table, and its number there from 1.
 * desk -1: no entry. */
struct entry_name {
    int32_t desk;
    int64_t seq;
};

struct entry {
    struct entry_name name;
    struct entry_name subject; /* what it corrects; for ACT_ADD the entry itself */
    struct entry_name
        undoes;     /* the keystroke's entry that this one takes back or brings back; else none */
    int64_t utc_ms; /* its place in the order: when the key was read, or the least number above all
                       that the desk knew where a clock elsewhere runs ahead. Rises within a desk */
    int64_t at_ms;  /* the moment spoken of, UTC by the desk's own clock: when the key was read, or
                       for an inserted strike when that happened */
    uint8_t kind, act, code; /* enum entry_kind, entry_act, entry_code */
    bool off_clock;          /* the round clock stood still at that moment */
    bool review;             /* flagged for review */
    bool accepted;           /* somebody looked at it and let it stand */
    bool unsure;             /* strike: the tagger did not see it well */
    uint8_t round;           /* 1..ROUND_MAX */
    int32_t elapsed_ms;      /* on the round clock, running time since the round began */
    struct strike strike;    /* the fields that the kind uses; the rest zero */
    int64_t value;           /* by code; of a strike: ENTRY_INSERTED, or 0 */
    char text[TEXT_BYTES];   /* UTF-8, cleaned */
    uint8_t prior[32];       /* digest of its desk's entry before it, which the log makes
                                (log/chain.h); all zero: not known here */
};

/* A desk of the bout: one operator's session. A desk opened again after a crash continues the
 * former one: both have the same root and count as one desk. */
struct desk_row {
    char uid[33]; /* 32 hex digits, unique in the world */
    char operator_[64];
    char name[72]; /* what people call it: the operator, with -2, -3 where one opens several on a
                      bout */
    int32_t root;  /* index of the first desk of the chain; its own index where it continues none */
    uint8_t corners;   /* bit 1 << corner for each corner that it tags */
    bool shadow;       /* opened with --shadow: never official by itself */
    int64_t opened_ms; /* UTC */
    int64_t id;        /* the database's own number; 0 elsewhere */
};

extern const char *const entry_kind_names[ENTRY_KIND_COUNT];
extern const char *const entry_act_names[ACT_COUNT];
extern const char *const entry_code_names[CODE_ALL]; /* CODE_NONE is "" */

#define ENTRY_NONE ((struct entry_name){-1, 0})

bool entry_same(struct entry_name a, struct entry_name b);

/* Whether two entries say the same, member for member (of what lies between members nothing is
 * known, so bytes tell nothing). */
bool entry_equal(const struct entry *a, const struct entry *b);

/* The one order of a bout's entries: by utc_ms, then desk uid, then sequence number. <0, 0, >0. */
int entry_compare(const struct entry *a, const struct entry *b, const struct desk_row *desks);

/* Which of the strike's fields a kind uses, besides the position that all have. */
enum entry_uses { USES_CORNER = 1, USES_STANCE = 2, USES_STRIKE = 4 };
unsigned entry_uses(enum entry_kind kind);

/* What `value` may be: points are summed, milliseconds bounded, so that nothing overflows. */
void entry_value_range(const struct entry *entry, int64_t *low, int64_t *high);

/* Why the entry cannot be one (a field out of its range, a code that its kind does not know), or
 * NULL. `desks` = how many desks there are. */
const char *entry_fault(const struct entry *entry, int desks);

/* What a table says of an entry in words: each one's index among its names, below 0 where it is
 * none of them; technique flags. */
struct entry_words {
    int kind, act, code, corner, limb, target, stance, position, outcome, technique;
};
/* Puts the words into an entry whose numbers and names are there. NULL, or why it cannot be one. */
const char *entry_take_words(struct entry *entry, const struct entry_words *words, int desks);

/* The same of a desk. */
const char *desk_fault(const struct desk_row *desk);

/* "red ", "blue ", or "" for a kind that has no corner: for people, before entry_words. */
const char *entry_corner(const struct entry *entry);

/* One line for people, without time and corner: "left leg body, landed", "clock starts", "warning".
 */
void entry_words(char *out, unsigned size, const struct entry *entry);

#endif
