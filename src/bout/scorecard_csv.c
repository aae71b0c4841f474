/* scorecard_csv.c: judges' scores as CSV. */
/* Scorecards as CSV: written by hand, which RFC 4180 makes short, and read through libcsv. */
#include "ringtally/bout/scorecard.h"

#include <stdlib.h>
#include <string.h>

#include <csv.h>

#include "ringtally/base/text.h"

enum column { COLUMN_JUDGE, COLUMN_ROUND, COLUMN_RED, COLUMN_BLUE, COLUMN_NAMES, COLUMNS };
static const char *const column_names[COLUMNS] = {"judge", "round", "red", "blue", "names"};

#define FIELD_BYTES 96

static void add_field(struct buf *out, const char *text)
{
    if (!text[strcspn(text, ",\"\r\n")]) {
        buf_adds(out, text);
        return;
    }
    buf_adds(out, "\"");
    for (const char *at = text; *at; at++) {
        buf_add(out, at, 1);
        if (*at == '"') {
            buf_adds(out, "\"");
        }
    }
    buf_adds(out, "\"");
}

void scorecard_dump(struct buf *out, const struct scorecard *card, const struct bout *bout)
{
    char words[SCORE_BYTES];
    buf_adds(out, "judge,round,red,blue,names\r\n");
    for (int judge = 0; judge < card->judges; judge++) {
        const char *named = card->named[judge] & 1 << CORNER_RED    ? "red"
                            : card->named[judge] & 1 << CORNER_BLUE ? "blue"
                                                                    : "";
        for (int round = 0; round < ROUND_MAX; round++) {
            if (!card->given[judge][round]) {
                continue;
            }
            if (judge < bout->judges) {
                add_field(out, bout->judge[judge]);
            } else {
                buf_addf(out, "%d", judge + 1);
            }
            buf_addf(out, ",%d", round + 1);
            for (int corner = 0; corner < CORNER_COUNT; corner++) {
                buf_addf(out, ",%s", score_words(words, card->half[judge][round][corner]));
            }
            buf_addf(out, ",%s\r\n", named);
        }
    }
}

struct loader {
    struct scorecard card;
    struct buf *warnings;
    const struct rules *rules;
    const struct bout *bout;
    int boxed;
    const char *file;
    struct error *err;
    int code;
    int line;    /* being read, from 1 */
    int fields;  /* of the row so far */
    bool header; /* read */
    int columns, column[COLUMNS];
    bool seen[JUDGE_MAX][ROUND_MAX];
    uint8_t named[JUDGE_MAX];
    char field[COLUMNS][FIELD_BYTES]; /* by place in the row */
};

static void fail(struct loader *loader, const char *reason)
{
    if (!loader->code) {
        loader->code =
            error_set(loader->err, ERROR_FAILED, "%s:%d: %s", loader->file, loader->line, reason);
    }
}

static void on_field(void *text, size_t size, void *user)
{
    struct loader *loader = user;
    int place = loader->fields++;
    if (loader->code) {
        return;
    }
    if (place >= COLUMNS) {
        fail(loader, "more than 5 columns: judge, round, red, blue and names are known");
    } else if (size >= FIELD_BYTES || !text_is_utf8(size ? text : "", size)) {
        fail(loader, "a field longer than 95 bytes, or not UTF-8");
    } else {
        if (size) {
            memcpy(loader->field[place], text, size);
        }
        loader->field[place][size] = '\0';
    }
}

static const char *value(const struct loader *loader, enum column column)
{
    return loader->column[column] < 0 ? "" : loader->field[loader->column[column]];
}

static void read_header(struct loader *loader)
{
    for (int i = 0; i < COLUMNS; i++) {
        loader->column[i] = -1;
    }
    for (int place = 0; place < loader->fields; place++) {
        int column = name_index(column_names, COLUMNS, loader->field[place]);
        if (column < 0 || loader->column[column] >= 0) {
            fail(loader, column < 0 ? "the first row names the columns: judge,round,red,blue,names"
                                    : "a column is there twice");
            return;
        }
        loader->column[column] = place;
    }
    for (int column = 0; column < COLUMN_NAMES; column++) {
        if (loader->column[column] < 0) {
            fail(loader, "the columns judge, round, red and blue are needed");
            return;
        }
    }
    loader->columns = loader->fields;
    loader->header = true;
}

/* A whole number from 1 to 999, else 0. */
static int small_number(const char *text)
{
    size_t digits = strspn(text, "0123456789");
    return digits > 0 && digits < 4 && !text[digits] ? atoi(text) : 0;
}

/* The judge of that name, or of that number; 0: none. */
static int find_judge(const struct loader *loader, const char *text)
{
    char clean[FIELD_BYTES] = "";
    for (int i = 0; text_clean(clean, sizeof clean, text) && i < loader->bout->judges; i++) {
        if (strcmp(loader->bout->judge[i], clean) == 0) {
            return i + 1;
        }
    }
    int number = small_number(text);
    return number <= loader->card.judges ? number : 0;
}

static void read_names(struct loader *loader, int judge)
{
    const char *names = value(loader, COLUMN_NAMES);
    int corner = name_index(corner_names, CORNER_COUNT, names);
    if (!names[0]) {
        return;
    }
    if (corner < 0) {
        fail(loader, "names: red, blue or nothing is needed");
    } else if (loader->named[judge - 1] & ~(1 << corner)) {
        fail(loader, "names: the judge named the other corner in a row before");
    } else {
        loader->named[judge - 1] = loader->card.named[judge - 1] = (uint8_t)(1 << corner);
    }
}

static void read_score(struct loader *loader)
{
    struct error why = {0};
    char warning[256] = "";
    int half[CORNER_COUNT] = {0};
    int judge = find_judge(loader, value(loader, COLUMN_JUDGE));
    int round = small_number(value(loader, COLUMN_ROUND));
    if (!judge) {
        fail(loader, "no such judge on the bout");
        return;
    }
    if (!round) {
        fail(loader, "round: a whole number from 1 is needed");
        return;
    }
    if (score_parse(&half[CORNER_RED], loader->rules, value(loader, COLUMN_RED), &why) ||
        score_parse(&half[CORNER_BLUE], loader->rules, value(loader, COLUMN_BLUE), &why) ||
        scorecard_set(&loader->card, loader->rules, loader->boxed, judge, round, half[CORNER_RED],
                      half[CORNER_BLUE], warning, sizeof warning, &why)) {
        fail(loader, why.text);
        return;
    }
    if (loader->seen[judge - 1][round - 1]) {
        fail(loader, "this judge's score of this round is there twice");
        return;
    }
    loader->seen[judge - 1][round - 1] = true;
    read_names(loader, judge);
    if (warning[0] && loader->warnings) {
        buf_addf(loader->warnings, "%s:%d: %s\n", loader->file, loader->line, warning);
    }
}

static void on_row(int character, void *user)
{
    (void)character;
    struct loader *loader = user;
    if (!loader->code && !loader->header) {
        read_header(loader);
    } else if (!loader->code && loader->fields != loader->columns) {
        fail(loader, "not as many fields as the first row has");
    } else if (!loader->code) {
        read_score(loader);
    }
    loader->fields = 0;
}

static void refuse(struct loader *loader, struct csv_parser *parser)
{
    if (csv_error(parser) == CSV_ENOMEM) {
        loader->code = error_memory(loader->err);
    } else {
        fail(loader, "no CSV: a quote out of place");
    }
}

/* libcsv counts no lines: they are fed one by one. */
static void feed(struct loader *loader, struct csv_parser *parser, const char *text, size_t size)
{
    const char *end = text + size;
    for (const char *at = text; at < end && !loader->code;) {
        const char *stop = memchr(at, '\n', (size_t)(end - at));
        size_t length = stop ? (size_t)(stop - at) + 1 : (size_t)(end - at);
        loader->line++;
        if (csv_parse(parser, at, length, on_field, on_row, loader) != length) {
            refuse(loader, parser);
        }
        at += length;
    }
    if (!loader->code && csv_fini(parser, on_field, on_row, loader) != 0) {
        refuse(loader, parser);
    }
}

int scorecard_load(struct scorecard *card, struct buf *warnings, const struct rules *rules,
                   const struct bout *bout, int boxed, const char *text, size_t size,
                   const char *file, struct error *err)
{
    struct loader loader = {.card = *card,
                            .warnings = warnings,
                            .rules = rules,
                            .bout = bout,
                            .boxed = boxed,
                            .file = file,
                            .err = err};
    struct csv_parser parser;
    if (csv_init(&parser, CSV_STRICT | CSV_STRICT_FINI) != 0) {
        return error_memory(err);
    }
    bool bom = size >= 3 && memcmp(text, "\xef\xbb\xbf", 3) == 0;
    feed(&loader, &parser, text + (bom ? 3 : 0), size - (bom ? 3 : 0));
    if (!loader.code && !loader.header) {
        loader.line = 1;
        fail(&loader, "no scores: a first row judge,round,red,blue is needed");
    }
    csv_free(&parser);
    if (!loader.code) {
        *card = loader.card;
    }
    return loader.code;
}
