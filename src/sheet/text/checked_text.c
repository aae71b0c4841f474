/* checked_text.c: the live count against the recording, as a section of 80 columns, and as
 * Markdown. */
#include <string.h>

#include "sheet/checked.h"

#define PAGE  80
#define WORDS 20

static const int widths[CHECKED_CELLS] = {7, 15, 13, 11, 7, 7};

static void line_text(struct buf *out, const char *head, const char *text)
{
    if (text[0]) {
        struct buf whole = BUF_INIT;
        buf_addf(&whole, "%s: %s", head, text);
        buf_adds(out, "  ");
        buf_add_wrapped(out, whole.failed ? "" : whole.text, 4, PAGE);
        out->failed = out->failed || whole.failed;
        buf_release(&whole);
    }
}

static void table_text(struct buf *out, const struct reference *reference)
{
    char cell[CHECKED_CELLS][CELL_SIZE], words[48];
    buf_add_fit(out, "", WORDS);
    for (int i = 0; i < CHECKED_CELLS; i++) {
        buf_add_fit(out, checked_heads[i], -widths[i]);
    }
    buf_adds(out, "\n");
    for (size_t i = 0; i < reference->rows; i++) {
        if (!checked_listed(&reference->row[i])) {
            continue;
        }
        reference_words(words, sizeof words, &reference->row[i]);
        checked_cells(cell, &reference->row[i]);
        buf_adds(out, "  ");
        buf_add_fit(out, words, WORDS - 2);
        for (int k = 0; k < CHECKED_CELLS; k++) {
            buf_add_fit(out, cell[k], -widths[k]);
        }
        buf_adds(out, "\n");
    }
}

void checked_text(struct buf *out, const struct figures *figures)
{
    char line[256], text[CHECKED_LINE];
    const char *head = NULL;
    if (!checked_whole(figures)) {
        return;
    }
    const struct reference *reference = figures->checked->reference;
    buf_adds(out, "CHECKED AGAINST THE RECORDING, tagged by ");
    buf_addf(out, "%s\n  ", figures->checked->by);
    reference_line(line, sizeof line, reference);
    buf_add_wrapped(out, line, 2, PAGE);
    if (reference->tells) {
        table_text(out, reference);
        for (size_t i = 0; checked_line(i, &head, text, reference); i++) {
            line_text(out, head, text);
        }
        if (text[0] || reference->lag.of > 0) {
            buf_adds(out, "    ");
            buf_add_wrapped(out, reference_lag_note, 4, PAGE);
        }
    }
    for (int corner = 0; corner < CORNER_COUNT; corner++) {
        if (reference_tagged(&reference->figure[corner])) {
            checked_figure(text, &reference->figure[corner]);
            line_text(out, corner == CORNER_RED ? "RED, live for true" : "BLUE, live for true",
                      text);
        }
    }
    if (reference->tells) {
        buf_adds(out, "  ");
        buf_add_wrapped(out, checked_key, 2, PAGE);
    }
}

void checked_markdown(struct buf *out, const struct figures *figures,
                      void plain(struct buf *out, const char *text))
{
    char line[256], text[CHECKED_LINE], cell[CHECKED_CELLS][CELL_SIZE], words[48];
    const char *head = NULL;
    if (!checked_whole(figures)) {
        return;
    }
    const struct reference *reference = figures->checked->reference;
    reference_line(line, sizeof line, reference);
    buf_adds(out, "\n## Checked against the recording\n\n");
    plain(out, line);
    buf_adds(out, ". Tagged by ");
    plain(out, figures->checked->by);
    buf_adds(out, ".\n");
    if (reference->tells) {
        buf_adds(out, "\n| |");
        for (int i = 0; i < CHECKED_CELLS; i++) {
            buf_addf(out, " %s |", checked_heads[i]);
        }
        buf_adds(out, "\n|:--|--:|--:|--:|--:|--:|--:|\n");
        for (size_t i = 0; i < reference->rows; i++) {
            if (!checked_listed(&reference->row[i])) {
                continue;
            }
            reference_words(words, sizeof words, &reference->row[i]);
            checked_cells(cell, &reference->row[i]);
            buf_addf(out, "| %s |", words);
            for (int k = 0; k < CHECKED_CELLS; k++) {
                buf_addf(out, " %s |", cell[k]);
            }
            buf_adds(out, "\n");
        }
        buf_addf(out, "\n%s\n\n", checked_key);
        for (size_t i = 0; checked_line(i, &head, text, reference); i++) {
            if (text[0]) {
                buf_addf(out, "- %s: ", head);
                plain(out, text);
                buf_adds(out, "\n");
            }
        }
    }
    for (int corner = 0; corner < CORNER_COUNT; corner++) {
        if (reference_tagged(&reference->figure[corner])) {
            checked_figure(text, &reference->figure[corner]);
            buf_addf(out, "%s- %s, live for true: ", reference->tells || corner ? "" : "\n",
                     corner == CORNER_RED ? "RED" : "BLUE");
            plain(out, text);
            buf_adds(out, "\n");
        }
    }
    if (reference->tells && reference->lag.of > 0) {
        buf_addf(out, "\n%s\n", reference_lag_note);
    }
}
