/* claims.c: whether what is said from the numbers is as true as it claims. Bouts are made up in
 * which nothing differs, thrown as people throw, and go through the real fold into the real
 * remarks and coach's sheets: of such bouts no more than 6 in 100 may have any finding in a
 * document that claims 5 %, however often it is read. And bouts in which something does differ,
 * to say how often it is found.
 *
 * usage: claims [BOUTS [POWER_BOUTS]]: the tables, each from so many bouts a row; exit 1 where a
 * claim is not kept. A row of fewer than 100 bouts is judged by nobody.
 */
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "ringtally/base/embedded.h"
#include "ringtally/insight/coach.h"
#include "ringtally/insight/remarks.h"

#define START   INT64_C(1796000000000)
#define STRIKES 700 /* of a corner in a round at most */
#define MOST    0.06
#define JUDGED  100 /* bouts a row at least */

struct way { /* how a bout is thrown */
    const char *name;
    int rounds;
    double rate;     /* strikes a minute and corner */
    double length;   /* of a combination, in the mean */
    double shared;   /* share of combinations all of which land, or none */
    double southpaw; /* share of the half minutes boxed from it */
    bool often;      /* read every 10 s, too */
    int part;        /* of the bouts: one in so many is played */
    /* What differs, of red: in the last round, or all the time. */
    double pace, accuracy, setup;
};

struct event {
    int64_t at_ms;
    struct entry entry;
};

struct maker {
    uint64_t state;
    int64_t seq;
    size_t count;
    struct event event[24 * STRIKES];
};

static double uniform(struct maker *maker) /* xorshift64: Marsaglia G 2003, J. Stat. Softw. 8(14) */
{
    maker->state ^= maker->state << 13;
    maker->state ^= maker->state >> 7;
    maker->state ^= maker->state << 17;
    return (double)(maker->state >> 11) / 9007199254740992.0;
}

static double pause_ms(struct maker *maker, double mean)
{
    return -log(1.0 - uniform(maker)) * mean;
}

static void push(struct maker *maker, int64_t at_ms, struct entry entry)
{
    if (maker->count < sizeof maker->event / sizeof *maker->event) {
        entry.utc_ms = entry.at_ms = at_ms;
        entry.undoes = ENTRY_NONE;
        maker->event[maker->count++] = (struct event){at_ms, entry};
    }
}

/* What is thrown: jabs, crosses, kicks to three heights, a knee. */
static void pick(struct maker *maker, struct strike *strike)
{
    static const uint8_t limbs[] = {LIMB_LEFT_HAND, LIMB_RIGHT_HAND, LIMB_LEFT_HAND, LIMB_RIGHT_LEG,
                                    LIMB_LEFT_LEG,  LIMB_RIGHT_LEG,  LIMB_KNEE};
    static const uint8_t targets[] = {TARGET_HEAD, TARGET_HEAD, TARGET_BODY, TARGET_LEG,
                                      TARGET_BODY, TARGET_HEAD, TARGET_BODY};
    static const double up_to[] = {0.28, 0.50, 0.60, 0.78, 0.88, 0.94, 1.0};
    double roll = uniform(maker);
    int i = 0;
    while (i < 6 && roll > up_to[i]) {
        i++;
    }
    strike->limb = limbs[i];
    strike->target = targets[i];
}

static void make_round(struct maker *maker, const struct way *way, int corner, int round,
                       int64_t start)
{
    bool differs = corner == CORNER_RED && round == way->rounds;
    double mean =
        60000.0 * way->length / way->rate / (differs && way->pace > 0.0 ? way->pace : 1.0);
    double chance = 0.4 + (differs ? way->accuracy : 0.0);
    int64_t jab_ms = -100000;
    int half_minute = -1;
    enum stance stance = STANCE_ORTHODOX;
    double at = pause_ms(maker, mean);
    while (at < 180000.0) {
        bool shared = uniform(maker) < way->shared, all = uniform(maker) < chance;
        double strike_at = at;
        do {
            struct entry entry = {.kind = ENTRY_STRIKE,
                                  .round = (uint8_t)round,
                                  .elapsed_ms = (int32_t)strike_at,
                                  .strike = {.corner = (uint8_t)corner}};
            double lands = chance;
            pick(maker, &entry.strike);
            if (entry.strike.target == TARGET_LEG && corner == CORNER_RED &&
                (int64_t)strike_at - jab_ms <= 2000) {
                lands += way->setup;
            }
            if (entry.strike.limb == LIMB_LEFT_HAND && entry.strike.target == TARGET_HEAD) {
                jab_ms = (int64_t)strike_at;
            }
            if ((int)(strike_at / 30000.0) != half_minute) {
                half_minute = (int)(strike_at / 30000.0);
                stance = uniform(maker) < way->southpaw ? STANCE_SOUTHPAW : STANCE_ORTHODOX;
            }
            entry.strike.stance = (uint8_t)stance;
            bool landed = shared ? all : uniform(maker) < lands;
            entry.strike.outcome = landed ? OUTCOME_LANDED : OUTCOME_ATTEMPTED;
            push(maker, start + (int64_t)strike_at, entry);
            strike_at += 250.0 + 450.0 * uniform(maker);
        } while (way->length > 1.0 && uniform(maker) > 1.0 / way->length && strike_at < 180000.0);
        at += pause_ms(maker, mean);
    }
}

static int by_time(const void *left, const void *right)
{
    const struct event *a = left, *b = right;
    return (a->at_ms > b->at_ms) - (a->at_ms < b->at_ms);
}

static int64_t bell_of(int round) /* the moment at which the round's time has passed */
{
    return START + 240000 * (int64_t)(round - 1) + 180000;
}

static void make(struct maker *maker, const struct way *way)
{
    maker->count = 0;
    for (int code = CODE_RED; code <= CODE_CLOCK; code++) {
        push(maker, START - 1000, (struct entry){.kind = ENTRY_OFFICIAL, .code = (uint8_t)code});
    }
    for (int round = 1; round <= way->rounds; round++) {
        int64_t start = bell_of(round) - 180000;
        push(maker, start,
             (struct entry){.kind = ENTRY_CLOCK, .code = CODE_START, .round = (uint8_t)round});
        make_round(maker, way, CORNER_RED, round, start);
        make_round(maker, way, CORNER_BLUE, round, start);
    }
    qsort(maker->event, maker->count, sizeof *maker->event, by_time);
}

enum document { DOCUMENT_REMARKS, DOCUMENT_RED, DOCUMENT_BLUE, DOCUMENTS };

struct seen {
    bool any[DOCUMENTS]; /* a finding, at any reading */
    bool kind[REMARK_KINDS + 1];
    bool changed;  /* red's sheet, in the last round: a change of red's */
    double chance; /* as the document says */
};

static void fail(const char *what)
{
    fprintf(stderr, "claims: %s\n", what);
    exit(2);
}

static void look(struct seen *seen, const struct fold *fold, const struct rules *rules,
                 int64_t now_ms)
{
    struct remarks remarks;
    if (remarks_init(&remarks, fold, NULL, NULL, &remark_rule_default, now_ms, NULL)) {
        fail("no memory");
    }
    for (size_t i = 0; i < remarks.count; i++) {
        if (remark_is_finding(&remarks.item[i])) {
            seen->any[DOCUMENT_REMARKS] = true;
            seen->kind[remarks.item[i].kind] = true;
        }
    }
    seen->chance = remarks.setup_chance;
    remarks_release(&remarks);
    for (int corner = 0; corner < CORNER_COUNT; corner++) {
        struct coach coach;
        if (coach_init(&coach, fold, rules, NULL, (enum corner)corner, 0, now_ms, NULL)) {
            fail("no memory");
        }
        for (int line = 0; line < LINE_COUNT; line++) {
            seen->any[DOCUMENT_RED + corner] |= coach.line[line].finding;
        }
        seen->changed = corner == CORNER_RED ? coach.line[LINE_CHANGED].finding : seen->changed;
    }
}

static void play(struct seen *seen, struct maker *maker, const struct way *way,
                 const struct rules *rules)
{
    struct clock_plan plan = clock_plan(rules, way->rounds);
    struct bout bout = {.number = 1};
    struct desk_row desk = {.uid = "a", .root = 0, .corners = 3};
    struct fold *fold = fold_new(&plan, &bout, FOLD_OFFICIAL);
    int64_t next = way->often ? START + 10000 : INT64_MAX;
    int bell = 1;
    memset(seen, 0, sizeof *seen);
    make(maker, way);
    if (!fold || fold_desk(fold, &desk)) {
        fail("no memory");
    }
    for (size_t i = 0; i <= maker->count; i++) {
        int64_t now = i < maker->count ? maker->event[i].at_ms : INT64_MAX - 1;
        for (; next <= now && next <= bell_of(way->rounds); next += 10000) {
            look(seen, fold, rules, next);
        }
        for (; bell <= way->rounds && bell_of(bell) <= now; bell++) {
            look(seen, fold, rules, bell_of(bell));
        }
        if (i < maker->count) {
            maker->event[i].entry.name = maker->event[i].entry.subject =
                (struct entry_name){0, (int64_t)i + 1};
            if (fold_add(fold, &maker->event[i].entry)) {
                fail("no memory");
            }
        }
    }
    fold_free(fold);
}

static const struct way nothing_differs[] = {
    {"independent", 3, 20, 1.0, 0.0, 0.0},
    {"independent, read every 10 s", 3, 20, 1.0, 0.0, 0.0, .often = true, .part = 10},
    {"8 a minute", 3, 8, 1.0, 0.0, 0.0},
    {"40 a minute", 3, 40, 1.0, 0.0, 0.0},
    {"5 rounds, southpaw in blocks", 5, 20, 1.0, 0.0, 0.3},
    {"combinations of 1.5", 3, 20, 1.5, 0.0, 0.0},
    {"combinations of 2.2", 3, 20, 2.2, 0.0, 0.0},
    {"of 2.2, 5 rounds, southpaw in blocks", 5, 20, 2.2, 0.0, 0.3},
    {"combinations of 3", 3, 20, 3.0, 0.0, 0.0},
    {"of 2.2, a fifth shares its outcome", 3, 20, 2.2, 0.2, 0.0},
    {"same, read every 10 s", 3, 20, 2.2, 0.2, 0.0, .often = true, .part = 10},
    {"same, 8 a minute", 3, 8, 2.2, 0.2, 0.0},
    {"of 3, shared, 40 a minute, southpaw", 3, 40, 3.0, 0.2, 0.3},
    {"of 2.2, shared, 12 rounds", 12, 20, 2.2, 0.2, 0.0, .part = 4},
};

static const struct way something_differs[] = {
    {"pace x 1.25", 3, 20, 2.2, 0.0, 0.0, .pace = 1.25},
    {"pace x 1.5", 3, 20, 2.2, 0.0, 0.0, .pace = 1.5},
    {"pace x 2", 3, 20, 2.2, 0.0, 0.0, .pace = 2.0},
    {"pace x 2, independent", 3, 20, 1.0, 0.0, 0.0, .pace = 2.0},
    {"accuracy +10 points", 3, 20, 2.2, 0.0, 0.0, .accuracy = 0.1},
    {"accuracy +20 points", 3, 20, 2.2, 0.0, 0.0, .accuracy = 0.2},
    {"accuracy +30 points", 3, 20, 2.2, 0.0, 0.0, .accuracy = 0.3},
    {"set-up +30 points", 3, 20, 2.2, 0.0, 0.0, .setup = 0.3},
    {"set-up +50 points", 3, 20, 2.2, 0.0, 0.0, .setup = 0.5},
    {"set-up +30, 5 rounds, 30 a minute", 5, 30, 2.2, 0.0, 0.0, .setup = 0.3},
    {"set-up +50, 5 rounds, 30 a minute", 5, 30, 2.2, 0.0, 0.0, .setup = 0.5},
};

static int nothing(struct maker *maker, const struct rules *rules, int bouts)
{
    static const char *const names[DOCUMENTS] = {"remarks", "red's sheet", "blue's sheet"};
    int broken = 0;
    printf("%d bouts a row in which nothing differs: per cent with any finding, at any reading\n\n"
           "| bouts | remarks | red's sheet | blue's sheet |\n|---|---|---|---|\n",
           bouts);
    for (size_t i = 0; i < sizeof nothing_differs / sizeof *nothing_differs; i++) {
        const struct way *way = &nothing_differs[i];
        int any[DOCUMENTS] = {0};
        int played = way->part ? bouts / way->part : bouts;
        for (int bout = 0; bout < played; bout++) {
            struct seen seen;
            play(&seen, maker, way, rules);
            for (int document = 0; document < DOCUMENTS; document++) {
                any[document] += seen.any[document];
            }
        }
        printf("| %s", way->name);
        if (way->part) {
            printf(" (%d bouts)", played);
        }
        printf(" |");
        for (int document = 0; document < DOCUMENTS; document++) {
            double share = (double)any[document] / played;
            /* fewer bouts: two standard errors of 6 % more */
            double most = way->part ? MOST + 2.0 * sqrt(MOST * (1.0 - MOST) / played) : MOST;
            printf(" %.1f |", 100.0 * share);
            if (share > most && played >= JUDGED) {
                fprintf(stderr, "claims: %s: %s has findings in %.1f %% of bouts\n", way->name,
                        names[document], 100.0 * share);
                broken = 1;
            }
        }
        printf("\n");
        fflush(stdout);
    }
    return broken;
}

static void something(struct maker *maker, const struct rules *rules, int bouts)
{
    printf("\n%d bouts a row in which something differs: per cent in which it is found\n\n"
           "| what differs | remarks | the coach's CHANGED |\n|---|---|---|\n",
           bouts);
    for (size_t i = 0; i < sizeof something_differs / sizeof *something_differs; i++) {
        const struct way *way = &something_differs[i];
        enum remark_kind kind = way->setup > 0.0  ? REMARK_SETUP
                                : way->pace > 0.0 ? REMARK_PACE
                                                  : REMARK_SWING;
        int found = 0, changed = 0;
        double chance = 0.0;
        for (int bout = 0; bout < bouts; bout++) {
            struct seen seen;
            play(&seen, maker, way, rules);
            found += seen.kind[kind];
            changed += seen.changed;
            chance += seen.chance;
        }
        printf("| %s | %.1f |", way->name, 100.0 * found / bouts);
        if (way->setup > 0.0) {
            printf(" (said of +30: %.1f) |\n", 100.0 * chance / bouts);
        } else {
            printf(" %.1f |\n", 100.0 * changed / bouts);
        }
        fflush(stdout);
    }
}

int main(int argc, char **argv)
{
    static struct maker maker = {.state = UINT64_C(0x9e3779b97f4a7c15)};
    const struct embedded *file = embedded_find("rules/kickboxing.ini");
    struct rules rules;
    int bouts = argc > 1 ? atoi(argv[1]) : 2000;
    int power = argc > 2 ? atoi(argv[2]) : 1000;
    if (!file || rules_parse(&rules, file->data, file->size, file->name, NULL)) {
        fail("no rules");
    }
    int broken = nothing(&maker, &rules, bouts);
    if (power > 0) {
        something(&maker, &rules, power);
    }
    return broken;
}
