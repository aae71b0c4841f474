/* card.c: an evening's card as values and as INI text. */
#include "ringtally/bout/card.h"

#include <ctype.h>
#include <stdbool.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "ringtally/base/grow.h"
#include "ringtally/bout/entry.h"
#include "ringtally/base/ini.h"
#include "ringtally/base/text.h"
#include "ringtally/base/when.h"

#define BOUT_MAX 999

const char *const bout_fields[] = {
    "weight",     "rules",       "rounds",     "terms",     "red.name",   "red.short",
    "red.stance", "red.from",    "red.record", "blue.name", "blue.short", "blue.stance",
    "blue.from",  "blue.record", "referee",    "judges",    NULL,
};

/* Cleaned text that may be empty. */
static int set_text(char *out, size_t size, const char *field, const char *value, struct error *err)
{
    char clean[512] = "";
    if (!text_clean(clean, sizeof clean, value) || strlen(clean) >= size) {
        return error_set(err, ERROR_FAILED, "%s: longer than %d bytes, or not UTF-8", field,
                         (int)size - 1);
    }
    memcpy(out, clean, strlen(clean) + 1);
    return 0;
}

static int set_name(struct fighter *fighter, const char *field, const char *value,
                    struct error *err)
{
    char derived[sizeof fighter->short_name] = "";
    short_name(derived, sizeof derived, fighter->name);
    bool follows = !fighter->short_name[0] || strcmp(fighter->short_name, derived) == 0;
    int code = set_text(fighter->name, sizeof fighter->name, field, value, err);
    if (!code && follows) {
        short_name(fighter->short_name, sizeof fighter->short_name, fighter->name);
    }
    return code;
}

static int set_short(struct fighter *fighter, const char *field, const char *value,
                     struct error *err)
{
    char clean[sizeof fighter->short_name] = "";
    int code = set_text(clean, sizeof clean, field, value, err);
    if (code) {
        return code;
    }
    if (text_width(clean) > SHORT_COLUMNS) {
        return error_set(err, ERROR_FAILED, "%s = %s: wider than %d columns", field, clean,
                         SHORT_COLUMNS);
    }
    memcpy(fighter->short_name, clean, sizeof clean);
    if (!clean[0]) {
        short_name(fighter->short_name, sizeof fighter->short_name, fighter->name);
    }
    return 0;
}

static int set_fighter(struct fighter *fighter, const char *field, const char *value,
                       struct error *err)
{
    const char *part = strchr(field, '.') + 1;
    if (strcmp(part, "name") == 0) {
        return set_name(fighter, field, value, err);
    }
    if (strcmp(part, "short") == 0) {
        return set_short(fighter, field, value, err);
    }
    if (strcmp(part, "stance") == 0) {
        int stance = name_index(stance_names, STANCE_COUNT, value);
        if (stance < 0) {
            return error_set(err, ERROR_FAILED, "%s = %s: orthodox, southpaw or square is needed",
                             field, value);
        }
        fighter->stance = (uint8_t)stance;
        return 0;
    }
    return strcmp(part, "from") == 0
               ? set_text(fighter->from, sizeof fighter->from, field, value, err)
               : set_text(fighter->record, sizeof fighter->record, field, value, err);
}

/* Letters, digits, and behind the first '-', '_' and '.': an id that is safe as a file's name. */
static bool is_id(const char *id, size_t size, size_t room)
{
    for (size_t i = 0; i < size; i++) {
        if (!isalnum((unsigned char)id[i]) && (i == 0 || !strchr("-_.", id[i]))) {
            return false;
        }
    }
    return size > 0 && size < room;
}

/* Whether there are such rules only the caller knows: users may have their own. */
static int set_rules(struct bout *bout, const char *value, struct error *err)
{
    if (!is_id(value, strlen(value), sizeof bout->rules)) {
        return error_set(err, ERROR_FAILED,
                         "rules = %s: letters, digits, '-', '_' and '.' name a rule set", value);
    }
    memcpy(bout->rules, value, strlen(value) + 1);
    return 0;
}

static int set_rounds(struct bout *bout, const char *value, struct error *err)
{
    char *end = NULL;
    long rounds = strtol(value, &end, 10);
    if (*end || rounds < 0 || rounds > ROUND_MAX || (*value && !isdigit((unsigned char)*value))) {
        return error_set(err, ERROR_FAILED,
                         "rounds = %s: a whole number from 1 to %d, or nothing (as the rules say)",
                         value, ROUND_MAX);
    }
    bout->rounds = (int)rounds;
    return 0;
}

static int set_judges(struct bout *bout, const char *value, struct error *err)
{
    struct bout fresh = {0};
    while (*value) {
        char name[256] = "";
        size_t size = strcspn(value, ",");
        if (size >= sizeof name) {
            return error_set(err, ERROR_FAILED, "judges: a name longer than %d bytes",
                             (int)sizeof fresh.judge[0] - 1);
        }
        memcpy(name, value, size);
        value += size + (value[size] == ',');
        char clean[sizeof fresh.judge[0]] = "";
        int code = set_text(clean, sizeof clean, "judges", name, err);
        if (code) {
            return code;
        }
        if (clean[0] && fresh.judges == JUDGE_MAX) {
            return error_set(err, ERROR_FAILED, "judges: more than %d", JUDGE_MAX);
        }
        if (clean[0]) {
            memcpy(fresh.judge[fresh.judges++], clean, sizeof clean);
        }
    }
    bout->judges = fresh.judges;
    memcpy(bout->judge, fresh.judge, sizeof fresh.judge);
    return 0;
}

/* Index of the field, or -1. */
static int field_index(const char *field)
{
    for (int i = 0; bout_fields[i]; i++) {
        if (strcmp(bout_fields[i], field) == 0) {
            return i;
        }
    }
    return -1;
}

int bout_set(struct bout *bout, const char *field, const char *value, struct error *err)
{
    if (field_index(field) < 0) {
        return error_set(err, ERROR_FAILED, "a bout knows no %s", field);
    }
    if (strcmp(field, "weight") == 0) {
        return set_text(bout->weight, sizeof bout->weight, field, value, err);
    }
    if (strcmp(field, "rules") == 0) {
        return set_rules(bout, value, err);
    }
    if (strcmp(field, "rounds") == 0) {
        return set_rounds(bout, value, err);
    }
    if (strcmp(field, "terms") == 0) {
        return set_text(bout->terms, sizeof bout->terms, field, value, err);
    }
    if (strcmp(field, "referee") == 0) {
        return set_text(bout->referee, sizeof bout->referee, field, value, err);
    }
    if (strcmp(field, "judges") == 0) {
        return set_judges(bout, value, err);
    }
    return set_fighter(&bout->fighter[field[0] == 'r' ? CORNER_RED : CORNER_BLUE], field, value,
                       err);
}

static void get_judges(const struct bout *bout, char *out, size_t size)
{
    size_t used = 0;
    for (int i = 0; i < bout->judges && used < size; i++) {
        used += (size_t)snprintf(out + used, size - used, "%s%s", i ? ", " : "", bout->judge[i]);
    }
}

int bout_get(const struct bout *bout, const char *field, char *out, size_t size)
{
    if (field_index(field) < 0) {
        return false;
    }
    const struct fighter *fighter = &bout->fighter[field[0] == 'r' ? CORNER_RED : CORNER_BLUE];
    const char *part = strchr(field, '.');
    const char *text = "";
    out[0] = '\0';
    if (strcmp(field, "judges") == 0) {
        get_judges(bout, out, size);
        return true;
    }
    if (strcmp(field, "rounds") == 0) {
        if (bout->rounds) {
            snprintf(out, size, "%d", bout->rounds);
        }
        return true;
    }
    if (!part) {
        text = strcmp(field, "weight") == 0  ? bout->weight
               : strcmp(field, "rules") == 0 ? bout->rules
               : strcmp(field, "terms") == 0 ? bout->terms
                                             : bout->referee;
    } else {
        part++;
        text = strcmp(part, "name") == 0     ? fighter->name
               : strcmp(part, "short") == 0  ? fighter->short_name
               : strcmp(part, "stance") == 0 ? stance_names[fighter->stance]
               : strcmp(part, "from") == 0   ? fighter->from
                                             : fighter->record;
    }
    snprintf(out, size, "%s", text);
    return true;
}

int bout_check(const struct bout *bout, struct error *err)
{
    const struct fighter *red = &bout->fighter[CORNER_RED];
    const struct fighter *blue = &bout->fighter[CORNER_BLUE];
    char missing[48] = "";
    int lacks = 0;
    const char *const needed[][2] = {
        {"rules", bout->rules}, {"red.name", red->name}, {"blue.name", blue->name}};
    for (size_t i = 0; i < sizeof needed / sizeof *needed; i++) {
        if (!needed[i][1][0]) {
            size_t used = strlen(missing);
            snprintf(missing + used, sizeof missing - used, "%s%s", lacks++ ? ", " : "",
                     needed[i][0]);
        }
    }
    if (bout->number < 1 || bout->number > BOUT_MAX) {
        return error_set(err, ERROR_FAILED, "bout %d: a number from 1 to %d is needed",
                         bout->number, BOUT_MAX);
    }
    if (bout->rounds < 0 || bout->rounds > ROUND_MAX) {
        return error_set(err, ERROR_FAILED, "bout %d: at most %d rounds", bout->number, ROUND_MAX);
    }
    if (lacks) {
        return error_set(err, ERROR_FAILED, "bout %d: %s %s missing", bout->number, missing,
                         lacks > 1 ? "are" : "is");
    }
    if (strcmp(red->name, blue->name) == 0) {
        return error_set(err, ERROR_FAILED, "bout %d: both corners are %s", bout->number,
                         red->name);
    }
    return 0;
}

int bout_ref_parse(char card[48], int *number, const char *text, struct error *err)
{
    const char *slash = strchr(text, '/');
    const char *digits = slash ? slash + 1 : text;
    size_t size = slash ? (size_t)(slash - text) : 0;
    char *end = NULL;
    long value = isdigit((unsigned char)*digits) ? strtol(digits, &end, 10) : 0;
    if (value < 1 || value > BOUT_MAX || *end || (slash && !is_id(text, size, 48))) {
        return error_set(err, ERROR_USAGE, "%s: not a bout: CARDID/NUMBER or NUMBER is needed",
                         text);
    }
    memcpy(card, text, size);
    card[size] = '\0';
    *number = (int)value;
    return 0;
}

struct parser {
    struct card *card;
    size_t room;
    int bout;                  /* index of the section being read; -1: [card] or none yet */
    unsigned seen;             /* fields of this section read so far, by bit */
    struct ini_place start;    /* of this section's first line */
    struct buf *faults;        /* all of them; NULL: the first ends it */
    char refused[64];          /* the section that is passed over, having been complained of */
    bool told_card, told_bout; /* what keys there are */
};

/* What a section knows: told once a file. */
static int unknown_key(const struct ini_place *place, struct error *err, const char *section,
                       const char *key, const char *const *known, bool *told)
{
    char list[256] = "";
    size_t used = 0;
    for (; *known && !*told && used < sizeof list; known++) {
        used += (size_t)snprintf(list + used, sizeof list - used, "%s%s",
                                 used ? ", " : ": it knows ", *known);
    }
    *told = true;
    return ini_fail(place, err, "%s knows no %s%s", section, key, list);
}

static int card_value(struct parser *parser, const char *key, const char *value,
                      const struct ini_place *place, struct error *err)
{
    static const char *const keys[] = {"id", "title", "date", "venue", NULL};
    struct card *card = parser->card;
    int index = name_index(keys, 4, key);
    if (index < 0) {
        return unknown_key(place, err, "[card]", key, keys, &parser->told_card);
    }
    if (parser->seen >> index & 1) {
        return ini_fail(place, err, "%s is there twice", key);
    }
    parser->seen |= 1u << index;
    char moment[64] = "";
    switch (index) {
    case 0:
        if (!is_id(value, strlen(value), sizeof card->id)) {
            return ini_fail(place, err,
                            "id = %s: letters, digits, '-', '_' and '.' make an id, at most %d",
                            value, (int)sizeof card->id - 1);
        }
        memcpy(card->id, value, strlen(value) + 1);
        return 0;
    case 1:
        return ini_text(card->title, sizeof card->title, key, value, place, err);
    case 2:
        snprintf(moment, sizeof moment, "%sT00:00:00Z", value);
        if (strlen(value) != sizeof card->date - 1 || when_parse(moment) == -1) {
            return ini_fail(place, err, "date = %s: a day as YYYY-MM-DD is needed", value);
        }
        memcpy(card->date, value, sizeof card->date);
        return 0;
    default:
        return ini_text(card->venue, sizeof card->venue, key, value, place, err);
    }
}

/* A card may break a long list of judges over several `judges` lines. */
static int judges_more(struct bout *bout, const char *value, struct error *err)
{
    char all[JUDGE_MAX * sizeof bout->judge[0] + 256] = "";
    get_judges(bout, all, sizeof all);
    size_t used = strlen(all);
    snprintf(all + used, sizeof all - used, ", %s", value);
    return bout_set(bout, "judges", all, err);
}

static int bout_value(struct parser *parser, const char *key, const char *value,
                      const struct ini_place *place, struct error *err)
{
    struct bout *bout = &parser->card->bout[parser->bout];
    struct error why = {0};
    int index = field_index(key);
    int code = 0;
    if (index < 0) {
        return unknown_key(place, err, "a bout", key, bout_fields, &parser->told_bout);
    }
    if (strcmp(key, "judges") == 0) {
        code = judges_more(bout, value, &why);
    } else if (parser->seen >> index & 1) {
        return ini_fail(place, err, "%s is there twice", key);
    } else {
        code = bout_set(bout, key, value, &why);
    }
    parser->seen |= 1u << index;
    return code ? ini_fail(place, err, "%s", why.text) : 0;
}

/* Notes the fault where all are gathered, so that the reading goes on. */
static int note(const struct parser *parser, int code, struct error *err, const struct error *why)
{
    if (code && parser->faults && code != ERROR_MEMORY) {
        ini_fault(parser->faults, why->text);
        return 0;
    }
    return code ? error_set(err, code, "%s", why->text) : 0;
}

/* What is missing or wrong in the section that ends. */
static int bout_end(const struct parser *parser, struct error *err)
{
    struct error why = {0};
    struct error placed = {0};
    if (parser->bout >= 0 && bout_check(&parser->card->bout[parser->bout], &why)) {
        return note(parser, ini_fail(&parser->start, &placed, "%s", why.text), err, &placed);
    }
    return 0;
}

static int bout_begin(struct parser *parser, int number, const struct ini_place *place,
                      struct error *err)
{
    struct card *card = parser->card;
    for (int i = 0; i < card->bouts; i++) {
        if (card->bout[i].number == number) {
            return ini_fail(place, err, "[bout %d] is there twice", number);
        }
    }
    if (!grow_array(&card->bout, sizeof *card->bout, (size_t)card->bouts, 1, &parser->room)) {
        return error_memory(err);
    }
    parser->bout = card->bouts++;
    card->bout[parser->bout] = (struct bout){.number = number, .line = place->line};
    return 0;
}

/* 0 for [card], the number of a [bout N], -1 for anything else. */
static int section_number(const char *section)
{
    if (strcmp(section, "card") == 0) {
        return 0;
    }
    char *end = NULL;
    if (strncmp(section, "bout ", 5) != 0 || !isdigit((unsigned char)section[5])) {
        return -1;
    }
    long number = strtol(section + 5, &end, 10);
    return *end || number < 1 || number > BOUT_MAX ? -1 : (int)number;
}

/* A section begins. */
static int section_begin(struct parser *parser, int number, const struct ini_place *place,
                         struct error *err)
{
    int code = bout_end(parser, err);
    if (!code && number == 0) {
        code = ini_fail(place, err, "[card] comes first, and once");
    }
    return code ? code : bout_begin(parser, number, place, err);
}

static int on_value(void *user, const char *section, const char *key, const char *value,
                    const struct ini_place *place, struct error *err)
{
    struct parser *parser = user;
    int number = section_number(section);
    int current = parser->bout < 0 ? 0 : parser->card->bout[parser->bout].number;
    int code = 0;
    if (parser->refused[0] && strcmp(parser->refused, section) == 0) {
        return 0;
    }
    parser->refused[0] = '\0';
    if (number < 0) {
        code = ini_fail(place, err, "[%s]: [card] or [bout 1] to [bout %d] is needed", section,
                        BOUT_MAX);
    } else if (number != current) {
        code = section_begin(parser, number, place, err);
        parser->seen = 0;
        parser->start = *place;
    }
    if (code) {
        snprintf(parser->refused, sizeof parser->refused, "%s", section);
        return code;
    }
    return number == 0 ? card_value(parser, key, value, place, err)
                       : bout_value(parser, key, value, place, err);
}

static int by_number(const void *a, const void *b)
{
    return ((const struct bout *)a)->number - ((const struct bout *)b)->number;
}

/* What a whole card lacks. */
static int card_check(const struct parser *parser, const char *file, struct error *err)
{
    const struct card *card = parser->card;
    const struct {
        bool missing;
        const char *what;
    } needs[] = {{!card->id[0], "an id in [card]"},
                 {!card->title[0], "a title in [card]"},
                 {!card->date[0], "a date in [card]"},
                 {!card->bouts, "a [bout 1]"}};
    int code = 0;
    for (size_t i = 0; i < sizeof needs / sizeof *needs && !code; i++) {
        struct error why = {0};
        if (needs[i].missing) {
            code = error_set(&why, ERROR_FAILED, "%s: a card needs %s", file, needs[i].what);
            code = note(parser, code, err, &why);
        }
    }
    return code;
}

int card_parse_all(struct card *out, const char *text, size_t size, const char *file,
                   struct buf *faults, struct error *err)
{
    struct card card = {0};
    struct parser parser = {.card = &card, .bout = -1, .start = {file, 1}, .faults = faults};
    int code = ini_read_all(text, size, file, on_value, &parser, faults, err);
    code = code ? code : bout_end(&parser, err);
    code = code ? code : card_check(&parser, file, err);
    if (code) {
        goto cleanup;
    }
    for (int i = 0; i < card.bouts; i++) {
        memcpy(card.bout[i].card, card.id, sizeof card.id);
    }
    if (card.bouts > 0) {
        qsort(card.bout, (size_t)card.bouts, sizeof *card.bout, by_number);
    }
    *out = card;
    card = (struct card){0};

cleanup:
    card_release(&card);
    return code;
}

int card_parse(struct card *out, const char *text, size_t size, const char *file, struct error *err)
{
    return card_parse_all(out, text, size, file, NULL, err);
}

void card_release(struct card *card)
{
    free(card->bout);
    *card = (struct card){0};
}

bool bout_same(const struct bout *a, const struct bout *b)
{
    bool same = a->id == b->id && a->number == b->number && strcmp(a->card, b->card) == 0;
    for (int i = 0; same && bout_fields[i]; i++) {
        char one[sizeof a->judge + 64] = "", other[sizeof a->judge + 64] = "";
        bout_get(a, bout_fields[i], one, sizeof one);
        bout_get(b, bout_fields[i], other, sizeof other);
        same = strcmp(one, other) == 0;
    }
    return same;
}
