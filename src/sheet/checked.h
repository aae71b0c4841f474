/* checked.h: the live count against the recording, as a bout's sheet tells it: one section, in
 * every form the same facts. Private to the room. */
#ifndef RINGTALLY_SHEET_CHECKED_H
#define RINGTALLY_SHEET_CHECKED_H

#include <jansson.h>

#include "sheet/figures.h"

/* What a row of the table says, in the order of checked_heads. */
enum checked_cell {
    CHECKED_OF,
    CHECKED_HAD,
    CHECKED_FIRST,
    CHECKED_FIXED,
    CHECKED_WRONG,
    CHECKED_ADDED,
    CHECKED_CELLS
};
extern const char *const checked_heads[CHECKED_CELLS]; /* "strikes" "had (95 %)" ... */
void checked_cells(char cell[CHECKED_CELLS][CELL_SIZE], const struct reference_row *row);
/* What the heads mean, in a sentence or two. */
extern const char checked_key[];

/* Kinds whose rows make the table; minutes are a line of their own. */
bool checked_listed(const struct reference_row *row);

/* The lines below the table, one after the other; false: there are no more. `head` is what a line
 * is of ("wrong", "landed", "lag", "by minute"). */
#define CHECKED_LINE 400
bool checked_line(size_t at, const char **head, char text[CHECKED_LINE],
                  const struct reference *reference);

/* "attempted 175 live, 180 by the recording (-2.8%); landed ...; accuracy 40%, 41%" */
void checked_figure(char text[CHECKED_LINE], const struct reference_figure *figure);

void checked_text(struct buf *out, const struct figures *figures);
void checked_markdown(struct buf *out, const struct figures *figures,
                      void plain(struct buf *out, const char *text));
void html_checked(struct buf *out, const struct figures *figures);
/* The document of reference_sheet_json. NULL, or *failed: out of memory. */
json_t *reference_tree(const struct reference_sheet_view *view, bool *failed);

#endif
