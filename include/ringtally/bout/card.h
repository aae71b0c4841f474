/* card.h: an evening's card and its bouts, as values and as INI text. */
#ifndef RINGTALLY_BOUT_CARD_H
#define RINGTALLY_BOUT_CARD_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#include "ringtally/base/buf.h"
#include "ringtally/base/error.h"
#include "ringtally/bout/strike.h"

#define JUDGE_MAX     7
#define SHORT_COLUMNS 12 /* terminal columns of a short name */

struct fighter {
    char name[96];
    char short_name[96]; /* for the panel: at most SHORT_COLUMNS; never empty where there is a name
                          */
    uint8_t stance;      /* enum stance at the start */
    char from[64];       /* may be empty */
    char record[32];     /* as announced, "14-2-0"; may be empty */
};

struct bout {
    int64_t id; /* the database's number; 0 where not from there */
    int line;   /* where its section begins in the card's file; 0: not from a file */
    char card[48];
    int number; /* 1..999 */
    char weight[48];
    char rules[32];  /* a rule set's id; whether there is such a set only the caller knows */
    int rounds;      /* 0: as the rules say */
    char terms[256]; /* where this bout differs from its rules: "scoring.open = yes, ...";
                        rules_terms */
    char referee[96];
    int judges;
    char judge[JUDGE_MAX][64];
    struct fighter fighter[CORNER_COUNT];
};

struct card {
    char id[48]; /* letters, digits, '-', '_', '.' */
    char title[96];
    char date[11]; /* YYYY-MM-DD */
    char venue[96];
    int bouts;
    struct bout *bout; /* by number; owned by the card */
};

/* Reads a card. On error nothing is owned by *out, and the message names file, line and reason. */
int card_parse(struct card *out, const char *text, size_t size, const char *file,
               struct error *err);
/* Reads on behind an error: each is added to `faults` as a line of the same form, and *out holds
 * what could be read: a card only where `faults` stayed empty. 0 or ERROR_MEMORY, then nothing is
 * owned. */
int card_parse_all(struct card *out, const char *text, size_t size, const char *file,
                   struct buf *faults, struct error *err);
void card_release(struct card *card);

/* Sets one field by its name in the file ("weight", "red.name", ...), checked. The same for file
 * and form. */
int bout_set(struct bout *bout, const char *field, const char *value, struct error *err);
/* The field's value as text, into out[size]; false where there is no such field. */
int bout_get(const struct bout *bout, const char *field, char *out, size_t size);

/* The same bout with the same fields, terms and officials too. */
bool bout_same(const struct bout *a, const struct bout *b);

/* Another person, not the same name in another spelling of case and accents. */
bool fighter_is_other(const char *before, const char *name);

/* What a name is cut to where no short one is given, into out[size] (sizeof short_name holds it):
 * the whole name where it fits; else its last word with what says which of that name it is ("Smith
 * Jr."), or without ("Okonkwo" of "... Okonkwo the Third"); a Thai name's first word. What is still
 * too wide ends with an ellipsis. */
void short_name(char *out, size_t size, const char *name);

/* The names of all fields, in the order of the form; ends with NULL. */
extern const char *const bout_fields[];

/* What is missing or wrong in a whole bout (no name, both fighters the same), or 0. */
int bout_check(const struct bout *bout, struct error *err);

/* Splits "CARDID/NUMBER" or "NUMBER" (card is then ""). */
int bout_ref_parse(char card[48], int *number, const char *text, struct error *err);

#endif
