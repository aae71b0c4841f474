/* log_card.c: cards and bouts in the database. */
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "ringtally/base/grow.h"
#include "log/sql.h"

/* Entries that a bout has, and the highest round among them. */
static int count_entries(struct log *log, int64_t bout, int64_t *entries, int *last_round,
                         struct error *err)
{
    sqlite3_stmt *statement = sql_query(log, SQL_BOUT_ENTRIES, err, "l", bout);
    if (!statement) {
        return ERROR_FAILED;
    }
    int code = sql_next(log, statement, err);
    if (code > 0) {
        *entries = sqlite3_column_int64(statement, 0);
        *last_round = sqlite3_column_int(statement, 1);
        sqlite3_reset(statement);
        code = 0;
    }
    return code;
}

int log_bout_entries(struct log *log, int64_t bout, int64_t *out, struct error *err)
{
    int last_round = 0;
    return count_entries(log, bout, out, &last_round, err);
}

int log_bout_newest(struct log *log, int64_t bout, int64_t *out, struct error *err)
{
    sqlite3_stmt *statement = sql_query(log, SQL_BOUT_NEWEST, err, "l", bout);
    int code = statement ? sql_next(log, statement, err) : ERROR_FAILED;
    if (code > 0) {
        *out = sqlite3_column_int64(statement, 0);
        sqlite3_reset(statement);
        code = 0;
    }
    return code;
}

static int get_corners(struct log *log, struct bout *bout, struct error *err)
{
    sqlite3_stmt *row = sql_query(log, SQL_CORNER_GET, err, "l", bout->id);
    if (!row) {
        return ERROR_FAILED;
    }
    int code = 0;
    while ((code = sql_next(log, row, err)) > 0) {
        char word[16] = "";
        sql_text(word, sizeof word, row, 0);
        struct fighter *fighter =
            &bout->fighter[strcmp(word, corner_names[CORNER_BLUE]) == 0 ? CORNER_BLUE : CORNER_RED];
        sql_text(fighter->name, sizeof fighter->name, row, 1);
        sql_text(fighter->short_name, sizeof fighter->short_name, row, 2);
        if (!fighter->short_name[0]) { /* earlier versions found none for some names */
            short_name(fighter->short_name, sizeof fighter->short_name, fighter->name);
        }
        sql_text(word, sizeof word, row, 3);
        int stance = name_index(stance_names, STANCE_COUNT, word);
        fighter->stance = (uint8_t)(stance < 0 ? STANCE_ORTHODOX : stance);
        sql_text(fighter->from, sizeof fighter->from, row, 4);
        sql_text(fighter->record, sizeof fighter->record, row, 5);
    }
    return code;
}

static int get_judges(struct log *log, struct bout *bout, struct error *err)
{
    sqlite3_stmt *row = sql_query(log, SQL_JUDGE_GET, err, "l", bout->id);
    if (!row) {
        return ERROR_FAILED;
    }
    int code = 0;
    while ((code = sql_next(log, row, err)) > 0) {
        if (bout->judges < JUDGE_MAX) {
            sql_text(bout->judge[bout->judges], sizeof bout->judge[0], row, 0);
            bout->judges++;
        }
    }
    return code;
}

/* What no card and no import lets in is no bout either. */
static int check_bout(const struct log *log, const struct bout *bout, struct error *err)
{
    char ref[80] = "", card[48] = "";
    int number = 0;
    struct error why = {0};
    snprintf(ref, sizeof ref, "%s/%d", bout->card, bout->number);
    return bout_ref_parse(card, &number, ref, &why) || bout_check(bout, &why)
               ? error_set(err, ERROR_FAILED, "%s: %s", log->path, why.text)
               : 0;
}

int log_bout_get(struct log *log, const char *card, int number, struct bout *out, struct error *err)
{
    *out = (struct bout){.number = number};
    snprintf(out->card, sizeof out->card, "%s", card);
    sqlite3_stmt *row = sql_query(log, SQL_BOUT_GET, err, "sd", card, number);
    int code = row ? sql_next(log, row, err) : ERROR_FAILED;
    if (code <= 0) {
        return code;
    }
    out->id = sqlite3_column_int64(row, 0);
    sql_text(out->weight, sizeof out->weight, row, 1);
    sql_text(out->rules, sizeof out->rules, row, 2);
    out->rounds = sqlite3_column_int(row, 3);
    sql_text(out->referee, sizeof out->referee, row, 4);
    sql_text(out->terms, sizeof out->terms, row, 5);
    sqlite3_reset(row);
    code = get_corners(log, out, err);
    code = code ? code : get_judges(log, out, err);
    return code ? code : check_bout(log, out, err);
}

static bool is_named(const char *name, const char *const *names)
{
    for (; names && *names; names++) {
        if (strcmp(*names, name) == 0) {
            return true;
        }
    }
    return false;
}

/* Refuses what would take its meaning from entries that are logged; other people come over them
 * only where `change` names those who go. */
static int check_change(struct log *log, const struct bout *old, const struct bout *bout,
                        const struct card_change *change, struct error *err)
{
    int64_t entries = 0;
    int last_round = 0;
    int code = count_entries(log, old->id, &entries, &last_round, err);
    if (code || entries == 0) {
        return code;
    }
    if (strcmp(old->rules, bout->rules) != 0) {
        return error_set(err, ERROR_FAILED,
                         "bout %s/%d: the rules cannot change from %s to %s: %lld entries are "
                         "logged under %s",
                         bout->card, bout->number, old->rules, bout->rules, (long long)entries,
                         old->rules);
    }
    for (int corner = 0; corner < CORNER_COUNT; corner++) {
        const char *name = bout->fighter[corner].name;
        const char *before = old->fighter[corner].name;
        if (strcmp(name, old->fighter[corner_other((enum corner)corner)].name) == 0) {
            return error_set(err, ERROR_FAILED,
                             "bout %s/%d: %s cannot change corners: %lld entries are logged; `card "
                             "swap %s/%d` lets both change places",
                             bout->card, bout->number, name, (long long)entries, bout->card,
                             bout->number);
        }
        if (fighter_is_other(before, name) && !is_named(before, change ? change->leaving : NULL)) {
            return error_set(err, ERROR_FAILED,
                             "bout %s/%d: %lld entries are logged with %s in %s: --replace \"%s\" "
                             "gives them to %s",
                             bout->card, bout->number, (long long)entries, before,
                             corner_names[corner], before, name);
        }
    }
    int rounds = change && change->rounds ? change->rounds(bout) : last_round;
    if (rounds < last_round && rounds < change->rounds(old)) {
        return error_set(err, ERROR_FAILED,
                         "bout %s/%d: %d rounds are too few: round %d has logged entries",
                         bout->card, bout->number, rounds, last_round);
    }
    return 0;
}

static int put_people(struct log *log, int64_t id, const struct bout *bout, struct error *err)
{
    int code = 0;
    for (int corner = 0; corner < CORNER_COUNT && !code; corner++) {
        const struct fighter *fighter = &bout->fighter[corner];
        code = sql_run(log, SQL_CORNER_SAVE, err, "lssssss", id, corner_names[corner],
                       fighter->name, fighter->short_name, stance_names[fighter->stance],
                       fighter->from, fighter->record);
    }
    code = code ? code : sql_run(log, SQL_JUDGE_DELETE, err, "l", id);
    for (int i = 0; i < bout->judges && !code; i++) {
        code = sql_run(log, SQL_JUDGE_SAVE, err, "lds", id, i + 1, bout->judge[i]);
    }
    return code;
}

int log_bout_put(struct log *log, const struct bout *bout, const struct card_change *change,
                 int64_t *id, struct error *err)
{
    struct bout old;
    int code = log_bout_get(log, bout->card, bout->number, &old, err);
    if (!code && old.id) {
        code = check_change(log, &old, bout, change, err);
    }
    if (code) {
        return code;
    }
    sqlite3_stmt *row =
        sql_query(log, SQL_BOUT_SAVE, err, "sdssdss", bout->card, bout->number, bout->weight,
                  bout->rules, bout->rounds, bout->referee, bout->terms);
    code = row ? sql_next(log, row, err) : ERROR_FAILED;
    if (code <= 0) {
        return code;
    }
    *id = sqlite3_column_int64(row, 0);
    code = sql_next(log, row, err); /* RETURNING has to be stepped to its end */
    return code ? code : put_people(log, *id, bout, err);
}

static const struct bout *find_number(const struct card *card, int number)
{
    for (int i = 0; i < card->bouts; i++) {
        if (card->bout[i].number == number) {
            return &card->bout[i];
        }
    }
    return NULL;
}

/* Ids and numbers of the bouts that a card has in the database. */
struct known_bout {
    int64_t id;
    int number;
};

static int known_bouts(struct log *log, const char *card, struct known_bout **out, int *count,
                       struct error *err)
{
    struct known_bout *bouts = NULL;
    size_t used = 0, room = 0;
    int code = 0;
    sqlite3_stmt *row = sql_query(log, SQL_CARD_BOUTS, err, "s", card);
    if (!row) {
        return ERROR_FAILED;
    }
    while ((code = sql_next(log, row, err)) > 0) {
        if (!grow_array(&bouts, sizeof *bouts, used, 1, &room)) {
            sqlite3_reset(row);
            free(bouts);
            return error_memory(err);
        }
        bouts[used++] =
            (struct known_bout){sqlite3_column_int64(row, 0), sqlite3_column_int(row, 1)};
    }
    if (code) {
        free(bouts);
        return code;
    }
    *out = bouts;
    *count = (int)used;
    return 0;
}

static int desk_is_open(struct log *log, int64_t bout, bool *out, struct error *err)
{
    struct desk_row *desks = NULL;
    int count = 0;
    int code = log_desks(log, bout, &desks, &count, err);
    for (int i = 0; i < count && !*out; i++) {
        *out = log_desk_is_live(log, desks[i].id);
    }
    free(desks);
    return code;
}

/* Removes a bout that the new card leaves out, unless somebody has worked or works on it. */
static int remove_bout(struct log *log, const char *card, const struct known_bout *bout,
                       struct error *err)
{
    int64_t entries = 0;
    bool open = false;
    int code = log_bout_entries(log, bout->id, &entries, err);
    code = code ? code : desk_is_open(log, bout->id, &open, err);
    if (!code && entries > 0) {
        code = error_set(err, ERROR_FAILED,
                         "bout %s/%d is not on the new card, but %lld entries are logged on it: "
                         "keep it on the card",
                         card, bout->number, (long long)entries);
    } else if (!code && open) {
        code = error_set(err, ERROR_FAILED,
                         "bout %s/%d is not on the new card, but a desk is open on it", card,
                         bout->number);
    }
    code = code ? code : sql_run(log, SQL_BOUT_DELETE_DESKS, err, "l", bout->id);
    return code ? code : sql_run(log, SQL_BOUT_DELETE, err, "l", bout->id);
}

int log_card_put(struct log *log, const struct card *card, const struct card_change *change,
                 struct error *err)
{
    struct known_bout *known = NULL;
    int count = 0;
    int code =
        sql_run(log, SQL_CARD_SAVE, err, "ssss", card->id, card->title, card->date, card->venue);
    code = code ? code : known_bouts(log, card->id, &known, &count, err);
    for (int i = 0; i < count && !code; i++) {
        if (!find_number(card, known[i].number)) {
            code = remove_bout(log, card->id, &known[i], err);
        }
    }
    for (int i = 0; i < card->bouts && !code; i++) {
        int64_t id = 0;
        code = log_bout_put(log, &card->bout[i], change, &id, err);
    }
    free(known);
    return code;
}

int log_card_replace(struct log *log, const struct card *card, const struct card_change *change,
                     struct error *err)
{
    int code = sql_begin(log, err);
    return code ? code : sql_end(log, log_card_put(log, card, change, err), err);
}

int log_card_save(struct log *log, const struct card *card, struct error *err)
{
    return log_card_replace(log, card, NULL, err);
}

int log_bout_replace(struct log *log, const struct bout *bout, const struct card_change *change,
                     struct error *err)
{
    int64_t id = 0;
    int code = sql_begin(log, err);
    return code ? code : sql_end(log, log_bout_put(log, bout, change, &id, err), err);
}

int log_bout_save(struct log *log, const struct bout *bout, struct error *err)
{
    return log_bout_replace(log, bout, NULL, err);
}

int log_bout_drop(struct log *log, const struct bout *bout, struct error *err)
{
    struct known_bout known = {bout->id, bout->number};
    int64_t entries = 0;
    int code = sql_begin(log, err);
    if (code) {
        return code;
    }
    code = log_bout_entries(log, bout->id, &entries, err);
    if (!code && entries > 0) {
        code = error_set(err, ERROR_FAILED,
                         "bout %s/%d stays on its card: %lld entries are logged on it", bout->card,
                         bout->number, (long long)entries);
    }
    return sql_end(log, code ? code : remove_bout(log, bout->card, &known, err), err);
}

int log_bout_swap(struct log *log, struct bout *bout, struct error *err)
{
    struct bout swapped;
    int code = sql_begin(log, err);
    if (code) {
        return code;
    }
    code = log_bout_get(log, bout->card, bout->number, &swapped, err);
    if (!code) {
        struct fighter red = swapped.fighter[CORNER_RED];
        swapped.fighter[CORNER_RED] = swapped.fighter[CORNER_BLUE];
        swapped.fighter[CORNER_BLUE] = red;
        code = put_people(log, swapped.id, &swapped, err);
    }
    code = sql_end(log, code, err);
    if (!code) {
        *bout = swapped;
    }
    return code;
}

static int newest_card(struct log *log, char out[48], struct error *err)
{
    sqlite3_stmt *row = sql_query(log, SQL_CARD_NEWEST, err, "");
    int code = row ? sql_next(log, row, err) : ERROR_FAILED;
    if (code == 0) {
        return error_set(err, ERROR_FAILED, "%s: no card is loaded yet", log->path);
    }
    if (code > 0) {
        sql_text(out, 48, row, 0);
        sqlite3_reset(row);
        code = 0;
    }
    return code;
}

int log_card_head(struct log *log, const char *id, struct card *out, struct error *err)
{
    sqlite3_stmt *row = sql_query(log, SQL_CARD_GET, err, "s", id);
    int code = row ? sql_next(log, row, err) : ERROR_FAILED;
    if (code == 0) {
        return error_set(err, ERROR_MISSING, "%s: there is no card %s", log->path, id);
    }
    if (code > 0) {
        sql_text(out->id, sizeof out->id, row, 0);
        sql_text(out->title, sizeof out->title, row, 1);
        sql_text(out->date, sizeof out->date, row, 2);
        sql_text(out->venue, sizeof out->venue, row, 3);
        sqlite3_reset(row);
        code = 0;
    }
    return code;
}

int log_card_there(struct log *log, const char *id, bool *out, struct error *err)
{
    sqlite3_stmt *row = sql_query(log, SQL_CARD_GET, err, "s", id);
    int code = row ? sql_next(log, row, err) : ERROR_FAILED;
    *out = code > 0;
    if (code > 0) {
        sqlite3_reset(row);
        code = 0;
    }
    return code;
}

static int get_card(struct log *log, const char *id, struct card *out, struct error *err)
{
    struct known_bout *known = NULL;
    int count = 0;
    char newest[48] = "";
    struct card card = {0};
    int code = id[0] ? 0 : newest_card(log, newest, err);
    code = code ? code : log_card_head(log, id[0] ? id : newest, &card, err);
    code = code ? code : known_bouts(log, card.id, &known, &count, err);
    if (!code && count > 0) {
        card.bout = calloc((size_t)count, sizeof *card.bout);
        code = card.bout ? 0 : error_memory(err);
    }
    for (int i = 0; i < count && !code; i++) {
        code = log_bout_get(log, card.id, known[i].number, &card.bout[card.bouts++], err);
    }
    free(known);
    if (code) {
        card_release(&card);
    } else {
        *out = card;
    }
    return code;
}

int log_card_get(struct log *log, const char *id, struct card *out, struct error *err)
{
    int code = sql_begin_read(log, err);
    return code ? code : sql_end(log, get_card(log, id, out, err), err);
}

int log_card_ids(struct log *log, char (**out)[48], size_t *count, struct error *err)
{
    char(*ids)[48] = NULL;
    size_t used = 0, room = 0;
    int code = 0;
    sqlite3_stmt *row = sql_query(log, SQL_CARD_IDS, err, "");
    if (!row) {
        return ERROR_FAILED;
    }
    while ((code = sql_next(log, row, err)) > 0) {
        if (!grow_array(&ids, sizeof *ids, used, 1, &room)) {
            sqlite3_reset(row);
            free(ids);
            return error_memory(err);
        }
        sql_text(ids[used++], sizeof ids[0], row, 0);
    }
    if (code) {
        free(ids);
        return code;
    }
    *out = ids;
    *count = used;
    return 0;
}

static int find_bout(struct log *log, const char *ref, struct bout *out, struct error *err)
{
    char card[48] = "";
    int number = 0;
    struct card head = {0};
    int code = bout_ref_parse(card, &number, ref, err);
    if (!code && !card[0]) {
        code = newest_card(log, card, err);
    }
    code = code ? code : log_card_head(log, card, &head, err);
    code = code ? code : log_bout_get(log, card, number, out, err);
    if (!code && !out->id) {
        code = error_set(err, ERROR_MISSING, "card %s has no bout %d", card, number);
    }
    return code;
}

int log_bout_find(struct log *log, const char *ref, struct bout *out, struct error *err)
{
    int code = sql_begin_read(log, err);
    return code ? code : sql_end(log, find_bout(log, ref, out, err), err);
}
