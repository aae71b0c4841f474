/* figures.h: all that a sheet says, worked out once for every printer. Private to the room.
 *
 * Counts come from the tally; here they are only chosen, divided and put in order. Texts are clean:
 * valid UTF-8 without control characters, whatever the database held.
 */
#ifndef RINGTALLY_SHEET_FIGURES_H
#define RINGTALLY_SHEET_FIGURES_H

#include "ringtally/bout/card.h"
#include "ringtally/insight/remarks.h"
#include "ringtally/tally/coverage.h"
#include "ringtally/tally/officials.h"
#include "ringtally/sheet/reference_sheet.h"
#include "ringtally/sheet/sheet.h"

#define CELL_SIZE      24
#define DESK_NAME_SIZE sizeof((struct desk_row *)0)->name

/* The figures of one corner in one scope, in the order in which they are printed. */
enum figure {
    FIGURE_STRIKES, /* landed/attempted */
    FIGURE_ACCURACY,
    FIGURE_OUTPUT, /* attempted a minute of running clock */
    FIGURE_BLOCKED,
    FIGURE_KNOCKDOWNS,
    FIGURE_COUNT
};
extern const char *const figure_words[FIGURE_COUNT];

struct scope {
    int round; /* 0: the whole bout */
    const struct round_tally *tally;
    int64_t ran_ms;                          /* running clock; -1: not known */
    int stops;                               /* of the clock, by hand */
    struct coverage_part seen[CORNER_COUNT]; /* how much of it was covered */
    int64_t unseen_ms[CORNER_COUNT]; /* of it, with the tagger's view of the corner blocked */
    int64_t
        output_ms[CORNER_COUNT]; /* that output goes by: what was covered, and seen if so asked */
};

/* One line of a list: something that happened. */
struct happening {
    const struct subject *subject;
    const char *desk;            /* whose log it is in */
    char words[TEXT_BYTES + 96]; /* without round, time and corner */
};

enum list { LIST_KNOCKDOWNS, LIST_INCIDENTS, LIST_OFF_CLOCK, LIST_REVIEW, LIST_COUNT };

/* A split of one corner's strikes that a printer shows as one row. */
struct split {
    const char *group; /* "group" "stance" "position" */
    const char *name;
    struct count count[CORNER_COUNT];
};
#define SPLIT_MAX (GROUP_COUNT + STANCE_COUNT + POSITION_COUNT)

/* A desk took office: from then on it was official for a corner or the clock. */
enum office { OFFICE_RED, OFFICE_BLUE, OFFICE_CLOCK, OFFICE_COUNT };
extern const char *const office_names[OFFICE_COUNT]; /* "red" "blue" "clock" */
struct term {
    enum office office;
    const char *desk;
    int round;
    int32_t elapsed_ms;
};

struct figures {
    const struct sheet_view *view;
    char bout[64];                        /* "CARDID/NUMBER" */
    char title[96], date[11], venue[96];  /* "" without a card */
    char weight[48], rules[64];           /* the rules' title */
    struct fighter fighter[CORNER_COUNT]; /* texts cleaned */
    struct clock_plan plan;
    struct clock_face face;
    size_t entries;
    struct coverage coverage;
    struct scope whole, asked; /* asked: `whole`, the round of the view, or its window */
    bool windowed;
    struct window window;          /* of the scope asked for */
    struct round_tally part;       /* and what it counts */
    struct scope round[ROUND_MAX]; /* the rounds to list */
    int rounds;
    struct split split[SPLIT_MAX]; /* of the scope asked for; only rows with strikes */
    int splits;
    bool limb_shown[LIMB_COUNT];        /* the rules know it, or it was thrown */
    struct happening *list[LIST_COUNT]; /* within the scope asked for, by round and clock */
    size_t listed[LIST_COUNT];
    size_t unlooked;   /* entries within the scope that want a look, those off the clock included */
    struct term *term; /* in time order */
    size_t terms;
    struct officials officials;
    const struct remarks *remarks; /* where the form tells them; else NULL */
    bool closed;                   /* signed and not reopened */
    char signer[64];               /* of the signature in force; "" */
    int64_t signed_ms;             /* UTC; 0 */
    size_t since;      /* entries that a signature in force does not cover: a merge brought them */
    char standing[48]; /* "provisional", "signed", "signed, 3 since" */
    char status[240];  /* "provisional: not signed" */
    const struct reference_sheet_view *checked; /* the live count against the recording; NULL: it
                                                   was not checked */
    size_t status_break; /* bytes of it before "; key ...", "; 3 entries came in since": what has a
                            line of its own; all where nothing follows */

    char (*desk)[DESK_NAME_SIZE]; /* names of the desks, cleaned, by their index */
};

/* A name out of a database that another program wrote into: never trusted. */
void figures_clean(char *out, size_t size, const char *text);
/* How the record stands. */
void figures_status(struct figures *out);

int figures_init(struct figures *out, const struct sheet_view *view, struct error *err);
void figures_release(struct figures *figures);

/* entry_words, with a foul as the rules word it. */
void rules_words(char *out, size_t size, const struct rules *rules, const struct entry *entry);

#define CELL_UNKNOWN "?" /* of a corner that nobody tagged: no count of it is a zero */

/* One figure as text; "-" where it is not defined. A minute is one of covered time. */
void figure_cell(char out[CELL_SIZE], const struct scope *scope, enum corner corner,
                 enum figure figure);
/* A count of a corner in a scope: as count_cell, or unknown. */
void scope_cell(char out[CELL_SIZE], const struct scope *scope, enum corner corner,
                const struct count *count);
/* A number of a corner in a scope, or unknown. */
void number_cell(char out[CELL_SIZE], const struct scope *scope, enum corner corner, int number);
/* "12/30", or "-" where nothing was thrown. */
void count_cell(char out[CELL_SIZE], const struct count *count);
/* A count's text in a field, to the right, after a blank where another one stands before it: where
 * it has no room, what was thrown is cut ("836/..."), never a digit. */
void add_count(struct buf *out, const char *cell, int width, bool apart);
/* "40%", or "-". */
void accuracy_cell(char out[CELL_SIZE], const struct count *count);
/* numerator / denominator, rounded half up to `digits` decimals, with a point in every locale;
 * `otherwise` where the denominator is 0. */
void ratio_cell(char out[CELL_SIZE], int64_t numerator, int64_t denominator, int digits,
                const char *otherwise);

/* "rest after round 1", "round 2, 1:12 left": the clock in words. */
void clock_words(char *out, size_t size, const struct clock_face *face);
/* "Ana Ferro, then Bo Reef from R2 1:12", or "nobody". */
void office_words(struct buf *out, const struct figures *figures, enum office office);

/* Whether a gap is one of the scope. */
bool gap_asked(const struct figures *figures, const struct scope *scope,
               const struct coverage_gap *gap);
/* What of the scope asked for was not covered: "blue: not tagged; nobody at the desk R1 0:18-0:49".
 * Nothing where all was. */
void coverage_text(struct buf *out, const struct figures *figures);
#define COVERAGE_NOTE "Strikes may be missing there: unknown, not zero. Rates are a covered minute."

/* "402 entries; 1 correction, 2 off the clock, 0 not looked at yet". */
void record_words(struct buf *out, const struct figures *figures);

/* Whether the sheet tells all of the check, which is of the whole bout; else it has a line. */
bool checked_whole(const struct figures *figures);

/* The printers: one a format. They only add to `out`. */
void sheet_text(struct buf *out, const struct figures *figures);
void sheet_markdown(struct buf *out, const struct figures *figures);
void sheet_csv(struct buf *out, const struct figures *figures);
void sheet_json(struct buf *out, const struct figures *figures);
void sheet_html(struct buf *out, const struct figures *figures);

#endif
