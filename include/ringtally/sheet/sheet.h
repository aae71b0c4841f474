/* sheet.h: what is written for a reader. Numbers come from the tally; nothing is counted here. */
#ifndef RINGTALLY_SHEET_SHEET_H
#define RINGTALLY_SHEET_SHEET_H

#include <stdint.h>

#include "ringtally/base/buf.h"
#include "ringtally/tally/fold.h"
#include "ringtally/tally/gate.h"
#include "ringtally/tally/records.h"
#include "ringtally/tally/window.h"
#include "ringtally/bout/rules.h"
#include "ringtally/bout/seal_state.h"
#include "ringtally/bout/sign.h"

enum sheet_format { SHEET_TEXT, SHEET_MARKDOWN, SHEET_CSV, SHEET_JSON, SHEET_HTML, SHEET_FORMATS };
extern const char *const sheet_format_names[SHEET_FORMATS]; /* "text" ... "html" */

/* All that a sheet or a counts document speaks of. */
struct sheet_view {
    const struct card *card; /* may be NULL */
    const struct bout *bout;
    const struct rules *rules;
    const struct fold *fold;
    int round;       /* 0: the whole bout */
    int64_t now_ms;  /* moment of the clock's reading; where entries lie ahead of time, the newest's
                      */
    int64_t wall_ms; /* UTC of the writing, which ages count from; 0: now_ms */
    const struct former *former;     /* what remarks hold records against; NULL: nothing */
    const struct desk_sign *signs;   /* of the desks, by their index; NULL: not known */
    bool cards;                      /* show the judges' cards also where the scoring is closed */
    const struct window_ask *window; /* counts of a part instead; NULL: none */
    bool seen;  /* output over the time alone in which the view of the corner was not blocked */
    bool plain; /* CSV for machines: no guard against formulas */
    const struct gate_state *gate; /* what the fold was not told; NULL: it has all */
    const struct seal_state *seal; /* of the signature, where there is one; NULL: not looked at */
};

/* The sheet for people: per round and whole bout, both corners side by side. Text fits 80 columns.
 * 0 or ERROR_MEMORY. */
int sheet_write(struct buf *out, const struct sheet_view *view, enum sheet_format format,
                struct error *err);

/* The officials' part alone: cards, what they imply, what was announced; SHEET_TEXT or SHEET_JSON.
 */
int officials_sheet(struct buf *out, const struct sheet_view *view, enum sheet_format format,
                    struct error *err);

/* Counts for machines: one JSON document (schema/counts.schema.json), CSV, or a short table. */
int counts_json(struct buf *out, const struct sheet_view *view, struct error *err);
/* What most graphics need, in about a kilobyte on one line (schema/headline.schema.json): names,
 * clock, and landed and attempted of the bout, the round, and the last minute of running clock. */
int headline_json(struct buf *out, const struct sheet_view *view, struct error *err);
/* What every live document says of itself. */
const char *counts_notice(bool is_signed);
int counts_csv(struct buf *out, const struct sheet_view *view, struct error *err);
int counts_table(struct buf *out, const struct sheet_view *view, struct error *err);

/* One line of JSON that says who is alive while nothing changes (schema/heartbeat.schema.json). */
int heartbeat_json(struct buf *out, const struct sheet_view *view, struct error *err);

/* RFC 4180: quotes where needed, CRLF by the caller; a cell that a spreadsheet would run as a
 * formula gets a leading apostrophe. */
void csv_cell(struct buf *out, const char *text);

/* How a bout of the card stands; texts are "" where there is nothing to say. */
struct bout_state {
    int64_t entries;
    int strikes;      /* that count */
    int rounds;       /* begun */
    char desks[160];  /* those open now, "ana, ben" */
    char signer[128]; /* who signed the record */
    char result[128]; /* as announced: "knockout, blue, R2 1:47" */
};

/* The card, for people and for machines; `states` = one a bout, or NULL. */
int card_table(struct buf *out, const struct card *card, const struct bout_state *states,
               struct error *err);
int card_json(struct buf *out, const struct card *card, const struct bout_state *states,
              struct error *err);

#endif
