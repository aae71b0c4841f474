/* officials_sheet.h: the officials' part of a sheet: what it says is put together once, and every
 * printer prints that. Private to the room. */
#ifndef RINGTALLY_OFFICIALS_SHEET_H
#define RINGTALLY_OFFICIALS_SHEET_H

#include "sheet/figures.h"

struct officials_card {
    char judge[96];
    char score[ROUND_MAX][24]; /* "10-9"; "-": not written */
    char total[24];
};

struct officials_line {
    const char
        *label; /* "leads", "implied", "because", "announced" or "entered", "differs", "compared" */
    char text[512];
};

#define OFFICIALS_LINES 5

struct officials_part {
    bool shown; /* there is anything: a score, an ending, an announcement */
    bool open;  /* the cards may be shown: open scoring, asked for, or a result was announced */
    int rounds; /* highest that has a score; 0: no cards to print */
    int cards;
    struct officials_card card[JUDGE_MAX];
    int lines; /* in the order of reading */
    struct officials_line line[OFFICIALS_LINES];
};

/* Where it is not `open`, cards and lines are empty. */
void officials_part(struct officials_part *out, const struct figures *figures);
/* The text of the line of that label, or NULL. */
const char *officials_said(const struct officials_part *part, const char *label);

/* Where the scoring is closed. */
extern const char officials_closed[];

/* json.c: the "officials" member of the sheet as a document of its own; null while there is
 * nothing. */
void officials_json(struct buf *out, const struct figures *figures);
void officials_text(struct buf *out, const struct figures *figures);
void officials_markdown(struct buf *out, const struct figures *figures,
                        void (*plain)(struct buf *, const char *));

#endif
