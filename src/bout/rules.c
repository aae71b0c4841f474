/* rules.c: rule sets, and a bout's own terms. */
#include "ringtally/bout/rules.h"

#include <stdio.h>
#include <string.h>

#include "ringtally/bout/entry.h"
#include "ringtally/base/ini.h"
#include "ringtally/base/text.h"

#define OWN_TERMS "this bout's own terms"
#define LOWEST    1
#define HIGHEST   9 /* a round's loser has less than ten */

static const char *const clause_names[CLAUSE_COUNT] = {
    "score",
    "decision",
    "tie",
    "deduction",
    "open",
    "throws",
    "knockout",
    "stoppage",
    "retirement",
    "limit",
    "round_limit",
    "warnings",
    "disqualification",
    "kicks",
    "accidental",
    "intentional",
    "both_out",
    "no_contest",
    "no_decision",
    "walkover",
};

#define WORDS 6
static const char *const no_yes[WORDS] = {"no", "yes"};
static const char *const systems[WORDS] = {"points", "rounds"};
static const char *const deducers[WORDS] = {"judges", "officials"};
static const char *const ties[WORDS] = {"draw", "extension", "judges"};
static const char *const extensions[WORDS] = {"alone", "added"};
static const char *const namings[WORDS] = {"commission", "amateur"};
static const char *const ended[WORDS] = {"bout", "round"};
static const char *const kicks_counted[WORDS] = {"attempted", "landed"};
static const char *const kick_limbs[WORDS] = {"legs", "legs-and-knees"};
static const char *const early_names[WORDS] = {"commission", "no-contest", "draw", "no-decision"};
static const char *const partials[WORDS] = {"left-out", "scored"};
static const char *const intentionals[WORDS] = {"commission", "cards"};
static const char *const both_outs[WORDS] = {"commission", "draw"};

/* One value of a file: a number within low..high, or one of the words. */
struct field {
    const char *section, *key;
    size_t offset;
    int low, high, scale;
    const char *const *words;
    enum clause clause; /* that it comes from; CLAUSE_COUNT: none */
};

#define NUMBER(section, key, member, low, high, scale, clause)                                     \
    {                                                                                              \
        section, key, offsetof(struct rules, member), low, high, scale, NULL, clause               \
    }
#define CHOICE(section, key, member, words, clause)                                                \
    {                                                                                              \
        section, key, offsetof(struct rules, member), 0, 0, 1, words, clause                       \
    }

static const struct field fields[] = {
    NUMBER("rules", "rounds", rounds, 1, ROUND_MAX, 1, CLAUSE_COUNT),
    NUMBER("rules", "round_seconds", round_ms, 10, 1800, 1000, CLAUSE_COUNT),
    NUMBER("rules", "rest_seconds", rest_ms, 0, 1800, 1000, CLAUSE_COUNT),
    NUMBER("rules", "extension_rounds", extension_rounds, 0, 5, 1, CLAUSE_TIE),
    NUMBER("rules", "extension_seconds", extension_ms, 10, 1800, 1000, CLAUSE_COUNT),
    NUMBER("rules", "judges", judges, 1, 7, 1, CLAUSE_COUNT),
    CHOICE("scoring", "system", scoring.system, systems, CLAUSE_SCORE),
    NUMBER("scoring", "lowest", scoring.lowest, LOWEST, HIGHEST, 1, CLAUSE_SCORE),
    CHOICE("scoring", "half_points", scoring.half_points, no_yes, CLAUSE_SCORE),
    CHOICE("scoring", "even_rounds", scoring.even_rounds, no_yes, CLAUSE_SCORE),
    CHOICE("scoring", "deductions", scoring.deductions, deducers, CLAUSE_DEDUCTION),
    CHOICE("scoring", "tie", scoring.tie, ties, CLAUSE_TIE),
    CHOICE("scoring", "tie_after_extension", scoring.tie_after, ties, CLAUSE_TIE),
    CHOICE("scoring", "extension_scored", scoring.extension, extensions, CLAUSE_TIE),
    CHOICE("scoring", "naming", scoring.naming, namings, CLAUSE_DECISION),
    CHOICE("scoring", "open", scoring.open, no_yes, CLAUSE_OPEN),
    CHOICE("scoring", "throws", scoring.throws, no_yes, CLAUSE_THROWS),
    NUMBER("limits", "knockdowns_round", limits.knockdowns_round, 0, 9, 1, CLAUSE_LIMIT),
    NUMBER("limits", "knockdowns_bout", limits.knockdowns_bout, 0, 99, 1, CLAUSE_LIMIT),
    NUMBER("limits", "counts_round", limits.counts_round, 0, 9, 1, CLAUSE_LIMIT),
    NUMBER("limits", "counts_bout", limits.counts_bout, 0, 99, 1, CLAUSE_LIMIT),
    CHOICE("limits", "round_limit_ends", limits.round_limit, ended, CLAUSE_ROUND_LIMIT),
    NUMBER("limits", "warnings_disqualify", limits.warnings, 0, 9, 1, CLAUSE_WARNINGS),
    NUMBER("kicks", "minimum", kicks.minimum, 0, 99, 1, CLAUSE_KICKS),
    CHOICE("kicks", "counted", kicks.counted, kicks_counted, CLAUSE_KICKS),
    CHOICE("kicks", "limbs", kicks.limbs, kick_limbs, CLAUSE_KICKS),
    CHOICE("stops", "before_cards", stops.early, early_names, CLAUSE_ACCIDENTAL),
    CHOICE("stops", "partial_round", stops.partial, partials, CLAUSE_ACCIDENTAL),
    CHOICE("stops", "empty_partial_even", stops.empty_even, no_yes, CLAUSE_ACCIDENTAL),
    CHOICE("stops", "intentional_later", stops.intentional, intentionals, CLAUSE_INTENTIONAL),
    CHOICE("stops", "both_out", stops.both_out, both_outs, CLAUSE_BOTH_OUT),
};
#define FIELDS (sizeof fields / sizeof fields[0])

/* The members are int or int32_t, which are one type wherever POSIX is. */
_Static_assert(sizeof(int) == sizeof(int32_t), "numbers of a rule set share a table");

struct parser {
    struct rules *rules;
    bool strikes;
    uint64_t fields, clauses, names; /* read so far, by bit */
    bool cards, id, title;
};

static int twice(const char *key, const struct ini_place *place, struct error *err)
{
    return ini_fail(place, err, "%s is there twice", key);
}

static int parse_targets(uint8_t *out, const char *limb, const char *value,
                         const struct ini_place *place, struct error *err)
{
    char word[16];
    int used = 0;
    *out = 0;
    for (const char *at = value; sscanf(at, " %15s%n", word, &used) == 1; at += used) {
        int target = name_index(target_names, TARGET_COUNT, word);
        if (target < 0) {
            return ini_fail(place, err, "%s: no such target: %s", limb, word);
        }
        *out |= (uint8_t)(1u << target);
    }
    return *out ? 0 : ini_fail(place, err, "%s: no target", limb);
}

static int parse_choice(int *out, const struct field *field, const char *value,
                        const struct ini_place *place, struct error *err)
{
    char all[96] = "";
    for (int i = 0; i < WORDS && field->words[i]; i++) {
        if (strcmp(field->words[i], value) == 0) {
            *out = i;
            return 0;
        }
        size_t used = strlen(all);
        snprintf(all + used, sizeof all - used, "%s%s", i ? " or " : "", field->words[i]);
    }
    return ini_fail(place, err, "%s = %s: %s is needed", field->key, value, all);
}

/* "after 4", "round 4", "half", "majority" or "commission". */
static int parse_cards(struct stop_rules *out, const char *value, const struct ini_place *place,
                       struct error *err)
{
    static const struct {
        const char *word;
        enum cards_from_kind kind;
        bool number;
    } words[] = {
        {"commission", CARDS_COMMISSION, false}, {"half", CARDS_HALF, false},
        {"majority", CARDS_MAJORITY, false},     {"after ", CARDS_AFTER, true},
        {"round ", CARDS_ROUND, true},
    };
    for (size_t i = 0; i < sizeof words / sizeof words[0]; i++) {
        size_t size = strlen(words[i].word);
        if (!words[i].number && strcmp(value, words[i].word) == 0) {
            out->cards_kind = words[i].kind;
            out->cards_from = 0;
            return 0;
        }
        if (words[i].number && strncmp(value, words[i].word, size) == 0) {
            int number = 0;
            int code = ini_int(&number, "cards_from", value + size, 1, ROUND_MAX, place, err);
            if (!code) {
                out->cards_kind = words[i].kind;
                out->cards_from = number;
            }
            return code;
        }
    }
    return ini_fail(place, err,
                    "cards_from = %s: after N, round N, half, majority or commission is needed",
                    value);
}

static const struct field *find_field(const char *section, const char *key)
{
    for (size_t i = 0; i < FIELDS; i++) {
        if (strcmp(fields[i].section, section) == 0 && strcmp(fields[i].key, key) == 0) {
            return &fields[i];
        }
    }
    return NULL;
}

/* A number or word of the table, or cards_from. *clause is what it comes from. */
static int set_field(struct rules *rules, const struct field *field, const char *value,
                     const struct ini_place *place, struct error *err)
{
    int *out = (int *)(void *)((char *)rules + field->offset);
    if (field->words) {
        return parse_choice(out, field, value, place, err);
    }
    int number = 0;
    int code = ini_int(&number, field->key, value, field->low, field->high, place, err);
    if (!code) {
        *out = number * field->scale;
    }
    return code;
}

static bool is_cards_from(const char *section, const char *key)
{
    return strcmp(section, "stops") == 0 && strcmp(key, "cards_from") == 0;
}

static int parse_named(struct parser *parser, const char *section, const char *key,
                       const char *value, const struct ini_place *place, struct error *err)
{
    struct rules *rules = parser->rules;
    bool clauses = strcmp(section, "clauses") == 0;
    int index = clauses ? name_index(clause_names, CLAUSE_COUNT, key)
                        : name_index(decision_ids, DECISION_KIND_COUNT, key);
    uint64_t *seen = clauses ? &parser->clauses : &parser->names;
    if (index < 0) {
        return ini_fail(place, err, "[%s] knows no %s", section, key);
    }
    if (*seen >> index & 1) {
        return twice(key, place, err);
    }
    *seen |= UINT64_C(1) << index;
    return clauses ? ini_text(rules->clause[index], sizeof rules->clause[0], key, value, place, err)
                   : ini_text(rules->name[index], sizeof rules->name[0], key, value, place, err);
}

static int parse_strike(struct parser *parser, const char *key, const char *value,
                        const struct ini_place *place, struct error *err)
{
    int limb = name_index(limb_names, LIMB_COUNT, key);
    if (limb < 0) {
        return ini_fail(place, err, "no such limb: %s", key);
    }
    if (parser->rules->targets[limb]) {
        return twice(key, place, err);
    }
    parser->strikes = true;
    return parse_targets(&parser->rules->targets[limb], key, value, place, err);
}

static int parse_foul(struct rules *rules, const char *key, const char *value,
                      const struct ini_place *place, struct error *err)
{
    if (rules->fouls == FOUL_MAX) {
        return ini_fail(place, err, "more than %d fouls", FOUL_MAX);
    }
    struct foul *foul = &rules->foul[rules->fouls++];
    int code = ini_text(foul->words, sizeof foul->words, key, value, place, err);
    if (!code && !text_clean(foul->id, sizeof foul->id, key)) {
        code = ini_fail(place, err, "%s: name too long", key);
    }
    return code;
}

/* id and title. */
static int parse_head(bool *seen, char *out, size_t size, const char *key, const char *value,
                      const struct ini_place *place, struct error *err)
{
    if (*seen) {
        return twice(key, place, err);
    }
    *seen = true;
    return ini_text(out, size, key, value, place, err);
}

static bool is_section(const char *section)
{
    for (size_t i = 0; i < FIELDS; i++) {
        if (strcmp(fields[i].section, section) == 0) {
            return true;
        }
    }
    return false;
}

static int on_value(void *user, const char *section, const char *key, const char *value,
                    const struct ini_place *place, struct error *err)
{
    struct parser *parser = user;
    struct rules *rules = parser->rules;
    if (strcmp(section, "rules") == 0 && strcmp(key, "id") == 0) {
        return parse_head(&parser->id, rules->id, sizeof rules->id, key, value, place, err);
    }
    if (strcmp(section, "rules") == 0 && strcmp(key, "title") == 0) {
        return parse_head(&parser->title, rules->title, sizeof rules->title, key, value, place,
                          err);
    }
    if (strcmp(section, "strikes") == 0) {
        return parse_strike(parser, key, value, place, err);
    }
    if (strcmp(section, "fouls") == 0) {
        return parse_foul(rules, key, value, place, err);
    }
    if (strcmp(section, "clauses") == 0 || strcmp(section, "names") == 0) {
        return parse_named(parser, section, key, value, place, err);
    }
    if (is_cards_from(section, key)) {
        bool again = parser->cards;
        parser->cards = true;
        return again ? twice(key, place, err) : parse_cards(&rules->stops, value, place, err);
    }
    const struct field *field = find_field(section, key);
    if (!field) {
        return is_section(section) ? ini_fail(place, err, "[%s] knows no %s", section, key)
                                   : ini_fail(place, err, "no such section: [%s]", section);
    }
    uint64_t bit = UINT64_C(1) << (field - fields);
    if (parser->fields & bit) {
        return twice(key, place, err);
    }
    parser->fields |= bit;
    return set_field(rules, field, value, place, err);
}

static void complete(struct rules *rules)
{
    if (rules->extension_rounds > 0 && rules->extension_ms == 0) {
        rules->extension_ms = rules->round_ms;
    }
}

int rules_check(const struct rules *rules, struct error *err)
{
    const struct scoring_rules *scoring = &rules->scoring;
    const char *fault = NULL;
    if (scoring->tie == TIE_EXTENSION && rules->extension_rounds == 0) {
        fault = "tie = extension needs extension_rounds";
    } else if (scoring->tie_after == TIE_EXTENSION) {
        fault = "tie_after_extension = extension: draw or judges is needed";
    } else if (rules->limits.round_limit == ROUND_LIMIT_ROUND && scoring->system != SYSTEM_ROUNDS) {
        fault = "round_limit_ends = round needs system = rounds";
    }
    return fault ? error_set(err, ERROR_FAILED, "%s", fault) : 0;
}

int rules_parse(struct rules *out, const char *text, size_t size, const char *file,
                struct error *err)
{
    struct parser parser = {.rules = out};
    struct error why = {0};
    memset(out, 0, sizeof *out);
    out->scoring.even_rounds = 1;
    int code = ini_read(text, size, file, on_value, &parser, err);
    if (code) {
        return code;
    }
    const struct {
        bool there;
        const char *what;
    } needs[] = {{out->id[0], "id"},      {out->title[0], "title"},
                 {out->rounds, "rounds"}, {out->round_ms, "round_seconds"},
                 {out->judges, "judges"}, {parser.strikes, "any strike in [strikes]"}};
    char missing[128] = "";
    size_t used = 0;
    for (size_t i = 0; i < sizeof needs / sizeof needs[0]; i++) {
        if (!needs[i].there) {
            used += (size_t)snprintf(missing + used, sizeof missing - used, "%s%s",
                                     used ? ", " : "", needs[i].what);
        }
    }
    if (used) {
        return error_set(err, ERROR_FAILED, "%s: a rule set needs %s", file, missing);
    }
    complete(out);
    if (rules_check(out, &why)) {
        return error_set(err, ERROR_FAILED, "%s: %s", file, why.text);
    }
    return 0;
}

/* The reason without the place that ini_fail put before it: an override has none. */
static int override_fail(const struct error *why, struct error *err)
{
    const char *reason = strchr(why->text, ' ');
    return error_set(err, why->code, "%s", reason ? reason + 1 : why->text);
}

int rules_override(struct rules *rules, const char *key, const char *value, struct error *err)
{
    static const struct ini_place nowhere = {"", 0};
    struct rules fresh = *rules;
    struct parser parser = {.rules = &fresh};
    struct error why = {0};
    char section[16] = "rules";
    const char *name = key;
    const char *dot = strchr(key, '.');
    if (dot && (size_t)(dot - key) < sizeof section) {
        memcpy(section, key, (size_t)(dot - key));
        section[dot - key] = '\0';
        name = dot + 1;
    }
    const struct field *field = find_field(section, name);
    enum clause clause = field ? field->clause : CLAUSE_COUNT;
    if (strcmp(section, "rules") == 0 && strcmp(name, "rounds") == 0) {
        return error_set(err, ERROR_FAILED, "the bout's own rounds = %s says that", value);
    }
    if (strcmp(section, "rules") == 0 && strcmp(name, "judges") == 0) {
        return error_set(err, ERROR_FAILED, "the bout's own list of judges says that");
    }
    if (is_cards_from(section, name)) {
        clause = CLAUSE_ACCIDENTAL;
        parse_cards(&fresh.stops, value, &nowhere, &why);
    } else if (field) {
        set_field(&fresh, field, value, &nowhere, &why);
    } else if (strcmp(section, "clauses") == 0 || strcmp(section, "names") == 0) {
        parse_named(&parser, section, name, value, &nowhere, &why);
    } else {
        return error_set(err, ERROR_FAILED, "the rules know no %s that a bout can set", key);
    }
    if (why.code) {
        return override_fail(&why, err);
    }
    if (clause < CLAUSE_COUNT) {
        memcpy(fresh.clause[clause], OWN_TERMS, sizeof OWN_TERMS);
    }
    complete(&fresh);
    *rules = fresh;
    return 0;
}

bool rules_allow(const struct rules *rules, enum limb limb, enum target target)
{
    return rules->targets[limb] >> target & 1;
}

int rules_terms(struct rules *rules, const char *terms, struct error *err)
{
    struct rules fresh = *rules;
    char term[256], key[64], value[128];
    for (const char *at = terms; *at;) {
        size_t length = strcspn(at, ",");
        snprintf(term, sizeof term, "%.*s", (int)length, at);
        at += length + (at[length] == ',');
        if (sscanf(term, " %63[^= ] = %127[^\n]", key, value) != 2) {
            return error_set(err, ERROR_FAILED, "terms: KEY = VALUE is needed, not \"%s\"", term);
        }
        for (size_t end = strlen(value); end > 0 && value[end - 1] == ' ';) {
            value[--end] = '\0';
        }
        int code = rules_override(&fresh, key, value, err);
        if (code) {
            return code;
        }
    }
    int code = rules_check(&fresh, err);
    if (!code) {
        *rules = fresh;
    }
    return code;
}

/* Those that a bout's own lines say. */
static bool is_of_bout(const struct field *field)
{
    return strcmp(field->section, "rules") == 0 &&
           (strcmp(field->key, "rounds") == 0 || strcmp(field->key, "judges") == 0);
}

static void describe(struct rules_key *out, const struct rules *rules, const struct field *field)
{
    int value = 0;
    memcpy(&value, (const char *)rules + field->offset, sizeof value);
    bool plain = strcmp(field->section, "rules") == 0;
    snprintf(out->key, sizeof out->key, "%s%s%s", plain ? "" : field->section, plain ? "" : ".",
             field->key);
    if (!field->words) {
        snprintf(out->value, sizeof out->value, "%d", value / field->scale);
        snprintf(out->allowed, sizeof out->allowed, "%d to %d", field->low, field->high);
        return;
    }
    out->allowed[0] = '\0';
    for (int i = 0; i < WORDS && field->words[i]; i++) {
        size_t used = strlen(out->allowed);
        snprintf(out->allowed + used, sizeof out->allowed - used, "%s%s", i ? ", " : "",
                 field->words[i]);
        if (i == value) {
            snprintf(out->value, sizeof out->value, "%s", field->words[i]);
        }
    }
}

static void describe_cards_from(struct rules_key *out, const struct rules *rules)
{
    static const char *const words[] = {[CARDS_COMMISSION] = "commission",
                                        [CARDS_AFTER] = "after",
                                        [CARDS_ROUND] = "round",
                                        [CARDS_HALF] = "half",
                                        [CARDS_MAJORITY] = "majority"};
    bool numbered =
        rules->stops.cards_kind == CARDS_AFTER || rules->stops.cards_kind == CARDS_ROUND;
    snprintf(out->key, sizeof out->key, "stops.cards_from");
    snprintf(out->value, sizeof out->value, "%s", words[rules->stops.cards_kind]);
    if (numbered) {
        size_t used = strlen(out->value);
        snprintf(out->value + used, sizeof out->value - used, " %d", rules->stops.cards_from);
    }
    snprintf(out->allowed, sizeof out->allowed, "after N, round N, half, majority, commission");
}

bool rules_key(struct rules_key *out, const struct rules *rules, size_t index)
{
    memset(out, 0, sizeof *out);
    for (size_t i = 0; i < FIELDS; i++) {
        if (!is_of_bout(&fields[i]) && index-- == 0) {
            describe(out, rules, &fields[i]);
            return true;
        }
    }
    if (index == 0) {
        describe_cards_from(out, rules);
        return true;
    }
    return false;
}
