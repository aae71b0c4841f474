/* agree_grid.c: does agreement give back what was put in? Bouts whose truth is known are tagged by
 * two desks that miss, err, jitter and start their clocks badly, and go through the real code; what
 * it reports is held against the truth of the same bouts. Prints the grid as a table and fails
 * where a cell does not hold.
 *
 * What must hold, as the mean over a cell's bouts, up to 150 ms of jitter of each desk: kappa of
 * corner, limb, target and landed within 0.02, misses within a tenth (or 1 in 100 strikes, where
 * there are fewer), and the desks are not said to be beyond telling. At 300 ms: that is said,
 * of 9 bouts in 10.
 *
 * usage: agree_grid [BOUTS [some]] */
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "ringtally/base/embedded.h"
#include "ringtally/insight/agree.h"

#define KAPPA_ROOM  0.02
#define STRIKES_MAX 2000
#define ROUNDS      3
#define ROUND_MS    180000.0
#define LIMBS       5
#define BURST_GAP   250.0 /* 4 a second */
#define BEFORE_MS   90000 /* so that no clock is before its bell */

/* How strikes are thrown: one by one; six at a time; combinations of 2.2 in the mean, of any length
 * (geometric). A combination is one corner's, at 4 a second. */
enum way { WAY_SINGLE, WAY_SIXES, WAY_COMBINATIONS, WAYS };
static const char *const way_names[WAYS] = {"single", "sixes", "combos"};
static const double way_length[WAYS] = {1, 6, 2.2};

/* How two desks tag a bout. The same rates for both. */
struct cell {
    double miss;
    double wrong;  /* limb, target and landed, each by itself */
    double corner; /* wrong corner */
    double jitter_ms;
    enum way way;
    double late_ms[ROUNDS];
    bool common; /* false: the second desk tagged another bout */
    bool alone;  /* by UTC only: the second desk never started its clock after round 1 */
};

struct result {
    double alone, alone_found, pairs;
    double kappa[AGREE_FIELDS], kappa_found[AGREE_FIELDS], kappa_listed[AGREE_FIELDS];
    double wrong, wrong_found, jitter;
    int told, chance;
    int covered, intervals; /* of limb: the truth of the bout within the interval */
};

struct truth {
    double at_ms;
    int round, corner, limb, target, landed;
};

static const uint8_t limbs[LIMBS] = {LIMB_LEFT_HAND, LIMB_RIGHT_HAND, LIMB_KNEE, LIMB_LEFT_LEG,
                                     LIMB_RIGHT_LEG};
static uint64_t seed;

static double share(void) /* 0 to 1, both left out */
{
    seed ^= seed << 13;
    seed ^= seed >> 7;
    seed ^= seed << 17;
    return ((double)(seed >> 11) + 0.5) / 9007199254740992.0;
}

static double normal(void)
{
    return sqrt(-2 * log(share())) * cos(6.283185307179586 * share());
}

static int pick(const double *shares, int count)
{
    double left = share();
    int i = 0;
    while (i + 1 < count && left >= shares[i]) {
        left -= shares[i++];
    }
    return i;
}

static int err(int value, int count, double rate)
{
    if (share() >= rate) {
        return value;
    }
    int other = (int)(share() * (count - 1));
    return other >= value ? other + 1 : other;
}

/* How many strikes come together. */
static int together(enum way way)
{
    int length = way == WAY_SIXES ? 6 : 1;
    while (way == WAY_COMBINATIONS && share() > 1 / way_length[way]) {
        length++;
    }
    return length;
}

/* 40 strikes a minute. */
static int make_bout(struct truth *out, enum way way)
{
    static const double of_limb[LIMBS] = {.36, .26, .08, .14, .16};
    static const double of_target[LIMBS][TARGET_COUNT] = {
        {.8, .2, 0}, {.75, .25, 0}, {.1, .9, 0}, {.15, .35, .5}, {.15, .35, .5}};
    int count = 0;
    for (int round = 1; round <= ROUNDS; round++) {
        double at = 0;
        for (;;) {
            at += -log(share()) * way_length[way] * 60000.0 / 40;
            if (at >= ROUND_MS) {
                break;
            }
            int corner = share() < .5;
            int length = together(way);
            for (int i = 0; i < length && at + i * BURST_GAP < ROUND_MS && count < STRIKES_MAX;
                 i++) {
                struct truth *strike = &out[count++];
                int limb = pick(of_limb, LIMBS);
                *strike = (struct truth){.at_ms = at + i * BURST_GAP,
                                         .round = round,
                                         .corner = corner,
                                         .limb = limb,
                                         .target = pick(of_target[limb], TARGET_COUNT),
                                         .landed = share() < .4};
            }
        }
    }
    return count;
}

/* The sequence number says which strike it was. */
static size_t tag(struct align_strike *out, int desk, const struct truth *bout, int count,
                  const struct cell *cell)
{
    size_t made = 0;
    for (int i = 0; i < count; i++) {
        if (share() < cell->miss) {
            continue;
        }
        const struct truth *strike = &bout[i];
        double true_ms = BEFORE_MS + strike->at_ms + cell->jitter_ms * normal();
        double at = true_ms + (desk ? cell->late_ms[strike->round - 1] : 0);
        struct align_strike *seen = &out[made++];
        *seen = (struct align_strike){
            .name = {desk, i + 1},
            .strike = {.corner = (uint8_t)err(strike->corner, CORNER_COUNT, cell->corner),
                       .limb = limbs[err(strike->limb, LIMBS, cell->wrong)],
                       .target = (uint8_t)err(strike->target, TARGET_COUNT, cell->wrong),
                       .outcome = err(strike->landed, 2, cell->wrong) ? OUTCOME_LANDED
                                                                      : OUTCOME_ATTEMPTED},
            .round = (uint8_t)strike->round,
            .elapsed_ms = (int32_t)at,
            .at_ms = 1700000000000 + 400000 * strike->round + (int64_t)true_ms};
        if (desk && cell->alone && strike->round > 1) {
            seen->round = 1;
            seen->off_clock = true;
            seen->idle_ms = 400000 * (strike->round - 1) + (int32_t)true_ms;
            seen->elapsed_ms = BEFORE_MS + (int32_t)ROUND_MS;
        }
    }
    align_sort(out, made);
    return made;
}

static int says(const struct align_strike *strike, int field)
{
    return field == AGREE_CORNER   ? strike->strike.corner
           : field == AGREE_LIMB   ? strike->strike.limb
           : field == AGREE_TARGET ? strike->strike.target
                                   : strike->strike.outcome == OUTCOME_LANDED;
}

/* What a reader who knew the truth would find. */
static double true_kappa(const struct agree *agree, int field, double *pairs)
{
    double table[LIMB_COUNT * LIMB_COUNT] = {0};
    *pairs = 0;
    for (size_t i = 0; i < agree->a_count; i++) {
        for (size_t j = 0; j < agree->b_count; j++) {
            if (agree->a[i].name.seq == agree->b[j].name.seq) {
                table[says(&agree->a[i], field) * LIMB_COUNT + says(&agree->b[j], field)]++;
                ++*pairs;
            }
        }
    }
    return kappa_cohen(table, LIMB_COUNT, AGREE_LEVEL).agreement.value;
}

static void add_bout(struct result *result, const struct agree *agree, bool common)
{
    double wrong = 0, pairs = 0;
    for (size_t i = 0; i < agree->align.count; i++) {
        struct align_link link = agree->align.links[i];
        wrong += link.a >= 0 && link.b >= 0 &&
                 (!common || agree->a[link.a].name.seq != agree->b[link.b].name.seq);
    }
    for (int field = 0; field < AGREE_FIELDS; field++) {
        const struct agree_field *found = &agree->field[field];
        double kappa = true_kappa(agree, field, &pairs);
        result->kappa[field] += kappa;
        result->kappa_found[field] += found->estimated.agreement.value;
        result->kappa_listed[field] += found->kappa.agreement.value;
        if (field == AGREE_LIMB && found->estimated.has_interval) {
            result->intervals++;
            result->covered += kappa >= found->estimated.low && kappa <= found->estimated.high;
        }
    }
    double strikes = (double)(agree->a_count + agree->b_count);
    double paired = (double)agree->align.paired;
    result->pairs += pairs;
    result->alone += strikes - 2 * pairs;
    result->alone_found += strikes - 2 * agree->align.expected;
    result->wrong += paired > 0 ? wrong / paired : 0;
    result->wrong_found += paired > 0 ? agree->align.wrong / paired : 0;
    result->jitter += agree->align.jitter_ms;
    result->told += agree_tells(agree);
    result->chance += agree->warnings >> AGREE_CHANCE & 1;
}

static struct result run(const struct cell *cell, int bouts, const struct rules *rules)
{
    static struct truth bout[STRIKES_MAX], other[STRIKES_MAX];
    static struct align_strike a[STRIKES_MAX], b[STRIKES_MAX];
    const struct align_options options = ALIGN_DEFAULTS;
    struct result result = {0};
    for (int i = 0; i < bouts; i++) {
        struct agree agree;
        int count = make_bout(bout, cell->way);
        int others = make_bout(other, cell->way);
        size_t a_count = tag(a, 0, bout, count, cell);
        size_t b_count =
            cell->common ? tag(b, 1, bout, count, cell) : tag(b, 1, other, others, cell);
        if (agree_make(&agree, a, a_count, b, b_count, &options, rules)) {
            abort();
        }
        add_bout(&result, &agree, cell->common);
        agree_release(&agree);
    }
    double *sums[] = {&result.alone, &result.alone_found, &result.pairs,
                      &result.wrong, &result.wrong_found, &result.jitter};
    for (size_t i = 0; i < sizeof sums / sizeof sums[0]; i++) {
        *sums[i] /= bouts;
    }
    for (int field = 0; field < AGREE_FIELDS; field++) {
        result.kappa[field] /= bouts;
        result.kappa_found[field] /= bouts;
        result.kappa_listed[field] /= bouts;
    }
    return result;
}

/* Does the cell hold? `noise`: what so few bouts may be off by chance. */
static bool holds(const struct cell *cell, const struct result *result, int bouts, double noise)
{
    if (!cell->common) {
        return result->told == 0 && result->chance == bouts;
    }
    if (cell->jitter_ms > 150) {
        return result->told * 10 <= bouts;
    }
    for (int field = 0; field < AGREE_FIELDS; field++) {
        if (fabs(result->kappa_found[field] - result->kappa[field]) > KAPPA_ROOM + noise) {
            return false;
        }
    }
    double strikes = result->alone + 2 * result->pairs;
    double room = fmax(result->alone * 0.1, strikes * 0.01);
    return result->told == bouts &&
           fabs(result->alone_found - result->alone) <= room * (1 + noise * 10);
}

static bool show(const struct cell *cell, const struct result *result, int bouts, double noise)
{
    static const enum agree_fields fields[] = {AGREE_LIMB, AGREE_TARGET, AGREE_LANDED,
                                               AGREE_CORNER};
    bool good = holds(cell, result, bouts, noise);
    printf("%-6s %3.0f %3.0f %3.0f %4.0f |%5.0f %5.0f |", way_names[cell->way], cell->jitter_ms,
           cell->miss * 100, cell->wrong * 100, cell->corner * 100, result->alone,
           result->alone_found);
    for (size_t i = 0; i < sizeof fields / sizeof fields[0]; i++) {
        printf(" %5.3f %+.3f", result->kappa[fields[i]],
               result->kappa_found[fields[i]] - result->kappa[fields[i]]);
    }
    printf(" | %+.3f | %4.1f %4.1f | %3.0f %4d%s\n",
           result->kappa_listed[AGREE_LIMB] - result->kappa[AGREE_LIMB], result->wrong * 100,
           result->wrong_found * 100, result->jitter, result->told * 100 / bouts,
           good ? "" : "  DOES NOT HOLD");
    fflush(stdout);
    return good;
}

static void head(const char *title)
{
    printf("\n%s\n"
           "          jit mis wro corn | only one    | kappa: true, and what is found less it\n"
           "strikes    ms   %%   %%   %% | true found | limb         target       landed       "
           "corner       | listed | wrong pairs | found told\n",
           title);
}

int main(int argc, char **argv)
{
    static const double jitters[] = {50, 100, 150, 300}, misses[] = {0, .05, .15, .30},
                        wrongs[] = {0, .10, .25}, corners[] = {0, .01, .03};
    static const double late[][ROUNDS] = {{-1500, 0, 1500},
                                          {1500, -1500, 700},
                                          {4000, 4000, 4000},
                                          {4000, 5500, 2500},
                                          {-20000, 31000, 0}};
    const int bouts = argc > 1 ? atoi(argv[1]) : 120;
    const bool some = argc > 2 && strcmp(argv[2], "some") == 0;
    const struct embedded *text = embedded_find("rules/kickboxing.ini");
    struct rules rules;
    struct error err_ = {0};
    bool good = true;
    if (bouts < 1 || bouts > 10000 || !text ||
        rules_parse(&rules, text->data, text->size, "rules", &err_)) {
        fputs("usage: agree_grid [BOUTS [some]]\n", stderr);
        return 2;
    }
    const double noise = bouts >= 40 ? 0 : 0.10 / bouts;
    seed = 88172645463325252u;
    printf("agreement of two desks, %d bouts a cell, each of about 360 strikes in 3 x 3 minutes\n",
           bouts);
    head("Misses, wrong fields and jitter of each desk");
    for (int way = 0; way < WAYS; way++) {
        for (size_t j = 0; j < sizeof jitters / sizeof jitters[0]; j++) {
            for (size_t m = 0; m < sizeof misses / sizeof misses[0]; m++) {
                for (size_t w = 0; w < sizeof wrongs / sizeof wrongs[0]; w++) {
                    struct cell cell = {.miss = misses[m],
                                        .wrong = wrongs[w],
                                        .corner = corners[w],
                                        .jitter_ms = jitters[j],
                                        .way = (enum way)way,
                                        .common = true};
                    if (some && (j < 2 || m % 2 || w == 1 || (way != WAY_SIXES && j != 2))) {
                        continue;
                    }
                    struct result result = run(&cell, bouts, &rules);
                    good = show(&cell, &result, bouts, noise) && good;
                }
            }
        }
    }
    head("Clocks off, by round: -1.5 0 1.5 s; 1.5 -1.5 0.7; 4 4 4; 4 5.5 2.5; -20 31 0");
    for (size_t k = 0; k < sizeof late / sizeof late[0]; k++) {
        for (int way = some; way <= WAY_SIXES; way++) {
            struct cell cell = {.miss = .05,
                                .wrong = .10,
                                .corner = .02,
                                .jitter_ms = 75,
                                .way = (enum way)way,
                                .common = true};
            memcpy(cell.late_ms, late[k], sizeof cell.late_ms);
            struct result result = run(&cell, bouts, &rules);
            good = show(&cell, &result, bouts, noise) && good;
        }
    }
    head("A clock that was never started after round 1 (found by UTC)");
    struct cell lost = {
        .miss = .05, .wrong = .10, .corner = .02, .jitter_ms = 75, .common = true, .alone = true};
    struct result result = run(&lost, bouts, &rules);
    good = show(&lost, &result, bouts, noise) && good;
    head("Two bouts with nothing in common: it must be said");
    for (int way = 0; way <= WAY_SIXES; way++) {
        struct cell cell = {.miss = .05, .wrong = .10, .jitter_ms = 75, .way = (enum way)way};
        result = run(&cell, bouts, &rules);
        good = show(&cell, &result, bouts, noise) && good;
    }
    return good ? 0 : 1;
}
