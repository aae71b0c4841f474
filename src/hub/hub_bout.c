/* hub_bout.c: cards, bouts and desks at the hub. */
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "hub/hub_log.h"
#include "ringtally/base/text.h"

#define NUMBER 24 /* a number as text */

static const char *const corners_words[] = {"", "red", "blue", "both"};

static const char *number_text(char out[NUMBER], int64_t number)
{
    snprintf(out, NUMBER, "%lld", (long long)number);
    return out;
}

/* Runs what gives no rows. */
static int run(struct hub *hub, enum hub_sql id, const char *const *values, struct error *err)
{
    PGresult *done = link_run(hub, id, values, err);
    PQclear(done);
    return done ? 0 : link_failed(err);
}

int hub_card_get(struct hub *hub, const char *id, struct card *out, struct error *err)
{
    const char *const values[] = {id};
    PGresult *row = link_run(hub, HUB_CARD_GET, values, err);
    *out = (struct card){.bouts = 0};
    if (!row) {
        return link_failed(err);
    }
    bool there = PQntuples(row) > 0;
    if (there) {
        link_text(out->id, sizeof out->id, row, 0, 0);
        link_text(out->title, sizeof out->title, row, 0, 1);
        link_text(out->date, sizeof out->date, row, 0, 2);
        link_text(out->venue, sizeof out->venue, row, 0, 3);
    }
    PQclear(row);
    return there ? 0 : error_set(err, ERROR_MISSING, "hub %s: there is no card %s", hub->name, id);
}

static int get_people(struct hub *hub, const char *id, struct bout *bout, struct error *err)
{
    const char *const values[] = {id};
    PGresult *rows = link_run(hub, HUB_CORNER_GET, values, err);
    for (int i = 0; rows && i < PQntuples(rows); i++) {
        bool blue = strcmp(PQgetvalue(rows, i, 0), corner_names[CORNER_BLUE]) == 0;
        struct fighter *fighter = &bout->fighter[blue ? CORNER_BLUE : CORNER_RED];
        link_text(fighter->name, sizeof fighter->name, rows, i, 1);
        link_text(fighter->short_name, sizeof fighter->short_name, rows, i, 2);
        int stance = name_index(stance_names, STANCE_COUNT, PQgetvalue(rows, i, 3));
        fighter->stance = (uint8_t)(stance < 0 ? STANCE_ORTHODOX : stance);
        link_text(fighter->from, sizeof fighter->from, rows, i, 4);
        link_text(fighter->record, sizeof fighter->record, rows, i, 5);
    }
    PQclear(rows);
    rows = rows ? link_run(hub, HUB_JUDGE_GET, values, err) : NULL;
    for (int i = 0; rows && i < PQntuples(rows) && bout->judges < JUDGE_MAX; i++) {
        link_text(bout->judge[bout->judges++], sizeof bout->judge[0], rows, i, 0);
    }
    PQclear(rows);
    return rows ? 0 : link_failed(err);
}

int hub_bout_get(struct hub *hub, const char *card, int number, struct hub_place *place,
                 struct bout *bout, struct error *err)
{
    char digits[NUMBER];
    const char *const values[] = {card, number_text(digits, number)};
    PGresult *row = link_run(hub, HUB_BOUT_GET, values, err);
    int code = row ? 0 : link_failed(err);
    *place = (struct hub_place){0};
    if (row && PQntuples(row) > 0) {
        *place = (struct hub_place){link_number(row, 0, 0), link_number(row, 0, 1)};
        if (bout) {
            *bout = (struct bout){.number = number};
            snprintf(bout->card, sizeof bout->card, "%s", card);
            link_text(bout->weight, sizeof bout->weight, row, 0, 2);
            link_text(bout->rules, sizeof bout->rules, row, 0, 3);
            bout->rounds = (int)link_number(row, 0, 4);
            link_text(bout->terms, sizeof bout->terms, row, 0, 5);
            link_text(bout->referee, sizeof bout->referee, row, 0, 6);
            code = get_people(hub, PQgetvalue(row, 0, 0), bout, err);
        }
    }
    PQclear(row);
    return code;
}

static int put_card(struct hub *hub, const struct card *card, struct error *err)
{
    struct card there;
    struct error why = {0};
    const char *title = card->title[0] ? card->title : card->id;
    const char *const values[] = {card->id, title, card->date, card->venue};
    int code = run(hub, HUB_CARD_SAVE, values, err);
    code = code ? code : hub_card_get(hub, card->id, &there, &why);
    if (code == ERROR_MISSING) { /* it is there: row security hides it */
        hub->refuses = true;
        return error_set(err, ERROR_FAILED,
                         "hub %s: card %s belongs to others there, and role %s is not let onto it",
                         hub->name, card->id, PQuser(hub->conn));
    }
    return code ? error_set(err, code, "%s", why.text) : 0;
}

static int put_people(struct hub *hub, const char *id, const struct bout *bout, struct error *err)
{
    int code = 0;
    for (int corner = 0; corner < CORNER_COUNT && !code; corner++) {
        const struct fighter *fighter = &bout->fighter[corner];
        char key[4 * sizeof fighter->name];
        if (!text_key(key, sizeof key, fighter->name)) {
            return error_set(err, ERROR_FAILED, "a name cannot be read: %s", fighter->name);
        }
        const char *const values[] = {id,
                                      corner_names[corner],
                                      fighter->name,
                                      key,
                                      fighter->short_name,
                                      stance_names[fighter->stance],
                                      fighter->from,
                                      fighter->record};
        code = run(hub, HUB_CORNER_SAVE, values, err);
    }
    for (int i = 0; i < bout->judges && !code; i++) {
        char seat[NUMBER];
        const char *const values[] = {id, number_text(seat, i + 1), bout->judge[i]};
        code = run(hub, HUB_JUDGE_SAVE, values, err);
    }
    return code;
}

/* The bout, made where missing; one that is there keeps its fields. */
static int put_bout(struct hub *hub, const struct bout *bout, int64_t *id, struct error *err)
{
    char number[NUMBER], rounds[NUMBER];
    struct hub_place place;
    struct bout known;
    const char *const values[] = {bout->card,   number_text(number, bout->number), bout->weight,
                                  bout->rules,  number_text(rounds, bout->rounds), bout->terms,
                                  bout->referee};
    PGresult *made = link_run(hub, HUB_BOUT_SAVE, values, err);
    if (!made) {
        return link_failed(err);
    }
    if (PQntuples(made) > 0) {
        *id = link_number(made, 0, 0);
        int code = put_people(hub, PQgetvalue(made, 0, 0), bout, err);
        PQclear(made);
        return code;
    }
    PQclear(made);
    int code = hub_bout_get(hub, bout->card, bout->number, &place, &known, err);
    if (code) {
        return code;
    }
    *id = place.id;
    return strcmp(known.rules, bout->rules) == 0
               ? 0
               : error_set(err, ERROR_FAILED,
                           "hub %s: bout %s/%d is under %s there, but was logged under %s",
                           hub->name, bout->card, bout->number, known.rules, bout->rules);
}

static int put_desks(struct hub *hub, int64_t bout, const struct desk_row *desks, int count,
                     struct error *err)
{
    char of[NUMBER], opened[NUMBER];
    bool any = false;
    const char *const bout_values[] = {number_text(of, bout)};
    int code = 0;
    for (int i = 0; i < count && !code; i++) {
        const struct desk_row *desk = &desks[i];
        const char *root = desk->root == i ? NULL : desks[desk->root].uid;
        const char *const values[] = {desk->uid,
                                      of,
                                      desk->operator_,
                                      desk->name,
                                      corners_words[desk->corners & 3],
                                      desk->shadow ? "t" : "f",
                                      number_text(opened, desk->opened_ms),
                                      root};
        PGresult *done = link_run(hub, HUB_DESK_SAVE, values, err);
        any = any || (done && PQcmdTuples(done)[0] == '1');
        code = done ? 0 : link_failed(err);
        PQclear(done);
    }
    return code || !any ? code : run(hub, HUB_BOUT_RAISE, bout_values, err);
}

int hub_bout_put(struct hub *hub, const struct card *card, const struct bout *bout,
                 const struct desk_row *desks, int desk_count, int64_t *id, struct error *err)
{
    int code = link_begin(hub, err);
    if (code) {
        return code;
    }
    code = put_card(hub, card, err);
    code = code ? code : put_bout(hub, bout, id, err);
    code = code ? code : put_desks(hub, *id, desks, desk_count, err);
    return link_end(hub, code, err);
}

static int index_of(const struct desk_row *desks, int count, int64_t id)
{
    for (int i = 0; i < count; i++) {
        if (desks[i].id == id) {
            return i;
        }
    }
    return -1;
}

struct desk_row *hub_read_desks(const PGresult *rows, int from, int to, int column)
{
    struct desk_row *desks = calloc((size_t)(to - from) + 1, sizeof *desks);
    for (int i = 0; desks && i < to - from; i++) {
        struct desk_row *desk = &desks[i];
        int row = from + i;
        desk->id = link_number(rows, row, column);
        link_text(desk->uid, sizeof desk->uid, rows, row, column + 1);
        link_text(desk->operator_, sizeof desk->operator_, rows, row, column + 2);
        link_text(desk->name, sizeof desk->name, rows, row, column + 3);
        int corners = name_index(corners_words, 4, PQgetvalue(rows, row, column + 4));
        desk->corners = (uint8_t)(corners < 0 ? 0 : corners);
        desk->shadow = link_flag(rows, row, column + 5);
        desk->opened_ms = link_number(rows, row, column + 6);
        int root = index_of(desks, i, link_number(rows, row, column + 7)); /* NULL: 0, nobody's */
        desk->root = root < 0 ? i : desks[root].root;
    }
    return desks;
}

int hub_desks(struct hub *hub, int64_t bout, struct desk_row **out, int *count, struct error *err)
{
    char id[NUMBER];
    const char *const values[] = {number_text(id, bout)};
    PGresult *rows = link_run(hub, HUB_DESK_GET, values, err);
    int there = rows ? PQntuples(rows) : 0;
    struct desk_row *desks = rows ? hub_read_desks(rows, 0, there, 0) : NULL;
    PQclear(rows);
    if (!desks) {
        return rows ? error_memory(err) : link_failed(err);
    }
    *out = desks;
    *count = there;
    return 0;
}
