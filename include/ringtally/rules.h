/* rules.h: a rule set as data. Parsed from INI text; the files are in shared/rules/. */
#ifndef RINGTALLY_RULES_H
#define RINGTALLY_RULES_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#include "ringtally/error.h"
#include "ringtally/strike.h"

#define FOUL_MAX 9

struct foul {
    char id[32];    /* "low_blow" */
    char words[48]; /* "low blow" */
};

struct rules {
    char id[32];
    char title[64];
    int rounds; /* scheduled */
    int32_t round_ms, rest_ms;
    int extension_rounds; /* that the rules allow after the scheduled ones */
    int32_t extension_ms;
    int judges;
    uint8_t targets[LIMB_COUNT]; /* bit 1 << target for each target that exists for the limb; 0: no
                                    such limb */
    int fouls;
    struct foul foul[FOUL_MAX]; /* picked by number 1.. in this order */
};

/* Reads a rule set. On error *out is undefined and the message names file, line and reason. */
int rules_parse(struct rules *out, const char *text, size_t size, const char *file,
                struct error *err);

/* Whether such a strike exists under the rules. */
bool rules_allow(const struct rules *rules, enum limb limb, enum target target);

#endif
