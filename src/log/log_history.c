/* log_history.c: a fighter's bouts, strikes summed by the database. */
#include "ringtally/log/log_history.h"

#include <stdlib.h>
#include <string.h>

#include "ringtally/base/buf.h"
#include "ringtally/base/grow.h"
#include "ringtally/base/text.h"
#include "log/sql.h"

#define NAME_SIZE sizeof((struct fighter *)0)->name
#define KEY_SIZE  (4 * NAME_SIZE)
#define LISTED    8 /* names in the error about several */

enum match { MATCH_NONE, MATCH_BEGINS, MATCH_SAME };

/* A word of the name begins with the text, or the name is the text. */
static enum match match_of(const char *name, const char *text)
{
    size_t size = strlen(text);
    if (strcmp(name, text) == 0) {
        return MATCH_SAME;
    }
    for (const char *word = name; word; word = strchr(word, ' ')) {
        word += *word == ' ';
        if (strncmp(word, text, size) == 0) {
            return MATCH_BEGINS;
        }
    }
    return MATCH_NONE;
}

struct names {
    char found[96];
    size_t count;
    struct buf list;
};

static void names_add(struct names *names, const char *name)
{
    names->count++;
    if (names->count == 1) {
        memcpy(names->found, name, strlen(name) + 1);
    }
    if (names->count <= LISTED) {
        buf_addf(&names->list, "%s%s", names->count > 1 ? ", " : "", name);
    }
}

/* Looks at every name there is, one step of the index each. */
static int look(struct log *log, const char *key, struct names *same, struct names *begins,
                struct error *err)
{
    int code = 0;
    sqlite3_stmt *row = sql_query(log, SQL_FIGHTER_NAMES, err, "");
    if (!row) {
        return ERROR_FAILED;
    }
    while ((code = sql_next(log, row, err)) > 0) {
        char name[NAME_SIZE], name_key[KEY_SIZE];
        sql_text(name, sizeof name, row, 0);
        if (text_key(name_key, sizeof name_key, name)) {
            enum match match = match_of(name_key, key);
            if (match != MATCH_NONE) {
                names_add(match == MATCH_SAME ? same : begins, name);
            }
        }
    }
    return code;
}

static int choose(const struct log *log, const char *text, const struct names *same,
                  const struct names *begins, char out[96], struct error *err)
{
    const struct names *names = same->count ? same : begins;
    if (names->list.failed) {
        return error_memory(err);
    }
    if (names->count == 0) {
        return error_set(err, ERROR_FAILED, "%s: no fighter is called %s", log->path, text);
    }
    if (names->count > 1) {
        return error_set(err, ERROR_FAILED, "%s may be %s%s: give more of the name", text,
                         names->list.text, names->count > LISTED ? ", ..." : "");
    }
    memcpy(out, names->found, sizeof names->found);
    return 0;
}

static int find_fighter(struct log *log, const char *text, char out[96], struct error *err)
{
    char clean[NAME_SIZE], key[KEY_SIZE];
    struct names same = {.count = 0}, begins = {.count = 0};
    if (!text_clean(clean, sizeof clean, text) || !text_key(key, sizeof key, clean) || !key[0]) {
        return error_set(err, ERROR_USAGE, "a fighter's name is needed");
    }
    sqlite3_stmt *row = sql_query(log, SQL_FIGHTER_THERE, err, "s", clean);
    int code = row ? sql_next(log, row, err) : ERROR_FAILED;
    if (code > 0) {
        sqlite3_reset(row);
        memcpy(out, clean, sizeof clean);
        return 0;
    }
    code = code ? code : look(log, key, &same, &begins, err);
    code = code ? code : choose(log, clean, &same, &begins, out, err);
    buf_release(&same.list);
    buf_release(&begins.list);
    return code;
}

int log_fighter_find(struct log *log, const char *text, char out[96], struct error *err)
{
    int code = sql_begin_read(log, err);
    return code ? code : sql_end(log, find_fighter(log, text, out, err), err);
}

/* Which bouts; the rest of each is read when this query is done. */
static int list_bouts(struct log *log, const char *name, struct fighter_bout **out, size_t *count,
                      struct error *err)
{
    size_t room = 0;
    int code = 0;
    sqlite3_stmt *row = sql_query(log, SQL_FIGHTER_BOUTS, err, "s", name);
    if (!row) {
        return ERROR_FAILED;
    }
    while ((code = sql_next(log, row, err)) > 0) {
        if (!grow_array(out, sizeof **out, *count, 1, &room)) {
            sqlite3_reset(row);
            return error_memory(err);
        }
        struct fighter_bout *bout = &(*out)[(*count)++];
        char corner[16];
        memset(bout, 0, sizeof *bout);
        sql_text(bout->bout.card, sizeof bout->bout.card, row, 0);
        bout->bout.number = sqlite3_column_int(row, 1);
        sql_text(corner, sizeof corner, row, 2);
        bout->corner = strcmp(corner, corner_names[CORNER_BLUE]) ? CORNER_RED : CORNER_BLUE;
        sql_text(bout->title, sizeof bout->title, row, 3);
        sql_text(bout->date, sizeof bout->date, row, 4);
    }
    return code;
}

static int read_bouts(struct log *log, const char *name, struct fighter_bout **out, size_t *count,
                      struct error *err)
{
    int code = list_bouts(log, name, out, count, err);
    for (size_t i = 0; i < *count && !code; i++) {
        struct bout *bout = &(*out)[i].bout;
        char card[sizeof bout->card];
        memcpy(card, bout->card, sizeof card);
        code = log_bout_get(log, card, bout->number, bout, err);
    }
    return code;
}

int log_fighter_bouts(struct log *log, const char *name, struct fighter_bout **out, size_t *count,
                      struct error *err)
{
    struct fighter_bout *bouts = NULL;
    size_t found = 0;
    int code = sql_begin_read(log, err);
    code = code ? code : sql_end(log, read_bouts(log, name, &bouts, &found, err), err);
    if (code) {
        free(bouts);
        return code;
    }
    *out = bouts;
    *count = found;
    return 0;
}

static int list_former(struct log *log, int64_t bout, size_t most, struct bout **out, size_t *count,
                       size_t *room, struct error *err)
{
    int code = 0;
    sqlite3_stmt *row = sql_query(log, SQL_FORMER_BOUTS, err, "ll", bout, (int64_t)most + 1);
    if (!row) {
        return ERROR_FAILED;
    }
    while ((code = sql_next(log, row, err)) > 0) {
        if (!grow_array(out, sizeof **out, *count, 1, room)) {
            sqlite3_reset(row);
            return error_memory(err);
        }
        struct bout *former = &(*out)[(*count)++];
        memset(former, 0, sizeof *former);
        sql_text(former->card, sizeof former->card, row, 0);
        former->number = sqlite3_column_int(row, 1);
    }
    return code;
}

static int read_former(struct log *log, int64_t bout, size_t most, struct bout **out, size_t *count,
                       bool *more, struct error *err)
{
    size_t room = 0;
    int code = list_former(log, bout, most, out, count, &room, err);
    *more = *count > most;
    *count = *more ? most : *count;
    for (size_t i = 0; i < *count && !code; i++) {
        char card[sizeof(*out)[i].card];
        memcpy(card, (*out)[i].card, sizeof card);
        code = log_bout_get(log, card, (*out)[i].number, &(*out)[i], err);
    }
    return code;
}

int log_former_bouts(struct log *log, int64_t bout, size_t most, struct bout **out, size_t *count,
                     bool *more, struct error *err)
{
    struct bout *bouts = NULL;
    size_t found = 0;
    int code = sql_begin_read(log, err);
    code = code ? code : sql_end(log, read_former(log, bout, most, &bouts, &found, more, err), err);
    if (code) {
        free(bouts);
        return code;
    }
    *out = bouts;
    *count = found;
    return 0;
}
