/* coach.c: the numbers of one corner's sheet. */
#include "sheet/coach.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "ringtally/stats/rate.h"

const char *const pad_column_words[PAD_COLUMNS] = {
    "left leg", "left hand", "left elbow", "right elbow", "right hand", "right leg", "knee"};

enum pad_column pad_column(int limb)
{
    static const uint8_t columns[LIMB_COUNT] = {
        [LIMB_LEFT_HAND] = PAD_LEFT_HAND,
        [LIMB_RIGHT_HAND] = PAD_RIGHT_HAND,
        [LIMB_LEFT_ELBOW] = PAD_LEFT_ELBOW,
        [LIMB_RIGHT_ELBOW] = PAD_RIGHT_ELBOW,
        [LIMB_KNEE] = PAD_KNEE,
        [LIMB_LEFT_KNEE] = PAD_KNEE,
        [LIMB_RIGHT_KNEE] = PAD_KNEE,
        [LIMB_LEFT_LEG] = PAD_LEFT_LEG,
        [LIMB_RIGHT_LEG] = PAD_RIGHT_LEG,
    };
    return (enum pad_column)columns[limb];
}

static void add(struct count *sum, const struct count *count)
{
    sum->attempted += count->attempted;
    sum->landed += count->landed;
}

static void add_knockdowns(struct pad *out, const struct sheet_view *view, enum corner corner,
                           int round)
{
    const struct subject *subjects = NULL;
    size_t count = fold_subjects(view->fold, &subjects);
    for (size_t i = 0; i < count; i++) {
        const struct entry *now = &subjects[i].now;
        if (subjects[i].counts && now->kind == ENTRY_STRIKE && now->strike.corner == corner &&
            (round == 0 || now->round == round) && now->strike.technique & TECHNIQUE_KNOCKDOWN) {
            out->cell[now->strike.target][pad_column(now->strike.limb)].knockdowns++;
            out->target[now->strike.target].knockdowns++;
        }
    }
}

void pad_read(struct pad *out, const struct sheet_view *view, enum corner corner, int round)
{
    const struct tally *tally = fold_tally(view->fold);
    const struct corner_tally *from =
        round ? &tally->round[round].corner[corner] : &tally->all.corner[corner];
    memset(out, 0, sizeof *out);
    out->all = from->all;
    for (int limb = 0; limb < LIMB_COUNT; limb++) {
        enum pad_column column = pad_column(limb);
        add(&out->column[column], &from->limb[limb]);
        for (int target = 0; target < TARGET_COUNT; target++) {
            struct pad_cell *cell = &out->cell[target][column];
            const struct count *count = &from->limb_target[limb][target];
            add(&cell->count, count);
            cell->exists =
                cell->exists || count->attempted || view->rules->targets[limb] >> target & 1;
            out->target[target].exists = out->target[target].exists || cell->exists;
            out->column_shown[column] = out->column_shown[column] || cell->exists;
        }
    }
    for (int target = 0; target < TARGET_COUNT; target++) {
        out->target[target].count = from->target[target];
        if (from->target[target].landed > out->most_target) {
            out->most_target = from->target[target].landed;
        }
        for (int column = 0; column < PAD_COLUMNS; column++) {
            int landed = out->cell[target][column].count.landed;
            out->most = landed > out->most ? landed : out->most;
        }
    }
    for (int column = 0; column < PAD_COLUMNS; column++) {
        out->columns += out->column_shown[column];
    }
    add_knockdowns(out, view, corner, round);
}

int pad_heat(int landed, int most)
{
    return landed <= 0 || most <= 0 ? 0 : (4 * landed + most - 1) / most;
}

void pad_words(char out[48], enum pad_column column, enum target target)
{
    static const char *const kicks[TARGET_COUNT] = {"head kick", "body kick", "low kick"};
    const char *limb = pad_column_words[column];
    if (column == PAD_LEFT_LEG || column == PAD_RIGHT_LEG) {
        snprintf(out, 48, "%s %s", column == PAD_LEFT_LEG ? "left" : "right", kicks[target]);
    } else {
        snprintf(out, 48, "%s to the %s", limb, target_names[target]);
    }
}

void coach_fixed(char out[CELL_SIZE], double value, int digits)
{
    long long unit = digits == 0 ? 1 : 10;
    long long scaled = llround(value * (double)unit);
    const char *sign = scaled < 0 ? "-" : "";
    if (digits == 0) {
        snprintf(out, CELL_SIZE, "%s%lld", sign, llabs(scaled));
    } else {
        snprintf(out, CELL_SIZE, "%s%lld.%lld", sign, llabs(scaled) / unit, llabs(scaled) % unit);
    }
}

void coach_share(char out[CELL_SIZE], struct estimate share)
{
    if (share.defined) {
        snprintf(out, CELL_SIZE, "%lld%% %lld-%lld", llround(share.value * 100),
                 llround(share.low * 100), llround(share.high * 100));
    } else {
        snprintf(out, CELL_SIZE, "-");
    }
}

void coach_rate(char out[CELL_SIZE], struct estimate rate)
{
    char value[CELL_SIZE], low[CELL_SIZE], high[CELL_SIZE];
    if (!rate.defined || rate.high >= 100000) { /* a clock that ran for a blink says nothing */
        snprintf(out, CELL_SIZE, "-");
        return;
    }
    int digits = rate.value < 100 ? 1 : 0;
    coach_fixed(value, rate.value, digits);
    coach_fixed(low, rate.low, digits);
    coach_fixed(high, rate.high, digits);
    snprintf(out, CELL_SIZE, "%.7s %.7s-%.7s", value, low, high);
}

static struct coach_round read_round(const struct coach *coach, int round)
{
    const struct sheet_view *view = coach->figures->view;
    const struct tally *tally = fold_tally(view->fold);
    const struct round_tally *scope = round ? &tally->round[round] : &tally->all;
    struct coach_round out = {.round = round};
    for (int side = 0; side < SIDE_COUNT; side++) {
        enum corner corner = coach->corner[side];
        out.count[side] = scope->corner[corner].all;
        out.accuracy[side] =
            interval_wilson(out.count[side].landed, out.count[side].attempted, COACH_LEVEL);
        const struct coverage_part *part = coverage_of(&coach->figures->coverage, round, corner);
        out.thrown[side] = rate_interval(out.count[side].attempted,
                                         (double)part->covered_ms / 60000.0, COACH_LEVEL);
        out.tagged[side] = part->tagged;
    }
    return out;
}

const struct coverage_part *coach_part(const struct coach *coach, enum side side)
{
    return &coach->figures->asked.seen[coach->corner[side]];
}

void coach_count(char out[CELL_SIZE], const struct coach_round *round, enum side side)
{
    if (round->tagged[side]) {
        count_cell(out, &round->count[side]);
    } else {
        snprintf(out, CELL_SIZE, CELL_UNKNOWN);
    }
}

int coach_init(struct coach *out, const struct figures *figures, enum corner corner,
               struct error *err)
{
    const struct sheet_view *view = figures->view;
    int last = view->round ? view->round : fold_tally(view->fold)->last_round;
    memset(out, 0, sizeof *out);
    out->figures = figures;
    out->corner[SIDE_WE] = corner;
    out->corner[SIDE_THEY] = corner_other(corner);
    for (int side = 0; side < SIDE_COUNT; side++) {
        struct pad *pad = &out->pad[side];
        pad_read(pad, view, out->corner[side], view->round);
        out->most = pad->most > out->most ? pad->most : out->most;
        out->most_target =
            pad->most_target > out->most_target ? pad->most_target : out->most_target;
    }
    for (int round = 1; round <= last; round++) {
        out->round[out->rounds++] = read_round(out, round);
    }
    out->round[out->rounds] = read_round(out, 0);
    out->first = out->rounds > COACH_ROUNDS ? out->rounds - COACH_ROUNDS : 0;
    out->listed = out->rounds + (last == fold_tally(view->fold)->last_round);
    return coach_say(out, err);
}

bool coach_hurt(const struct coach *coach)
{
    const struct round_tally *all = &fold_tally(coach->figures->view->fold)->all;
    bool hurt = false;
    for (int corner = 0; corner < CORNER_COUNT; corner++) {
        const struct corner_tally *of = &all->corner[corner];
        hurt = hurt || of->downs > 0 || of->incidents[CODE_INJURY] > 0;
    }
    return hurt;
}
