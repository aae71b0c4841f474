/* coach.c: the numbers of one corner's page. */
#include "ringtally/insight/coach.h"

#include <string.h>

#include "insight/coach_say.h"
#include "ringtally/tally/shares.h"

static struct coach_round read_round(const struct coach *coach, const struct coach_study *study,
                                     int round)
{
    const struct tally *tally = fold_tally(study->fold);
    const struct round_tally *scope = round ? &tally->round[round] : &tally->all;
    struct coach_round out = {.round = round};
    int first = round ? round : 1, last = round ? round : study->slices->last;
    for (int side = 0; side < SIDE_COUNT; side++) {
        struct span span = {coach->corner[side], first, last, MEASURE_ACCURACY, 0};
        out.count[side] = scope->corner[coach->corner[side]].all;
        out.accuracy[side] = slices_estimate(study->slices, span, COACH_LEVEL);
        const struct coverage_part *part =
            coverage_of(&study->slices->coverage, round, coach->corner[side]);
        span.measure = MEASURE_THROWN;
        out.tagged[side] = part->tagged;
        if (part->covered_ms >= RATE_LEAST_MS) {
            out.thrown[side] = slices_estimate(study->slices, span, COACH_LEVEL);
        }
    }
    return out;
}

static void read_stances(struct coach *out, const struct coach_study *study, enum side side)
{
    const struct tally *tally = fold_tally(study->fold);
    const int round = study->asked;
    const struct round_tally *scope = round ? &tally->round[round] : &tally->all;
    for (int stance = 0; stance < STANCE_COUNT; stance++) {
        const struct span span = {out->corner[side], round ? round : 1,
                                  round ? round : study->slices->last, MEASURE_STANCE, stance};
        out->from[side][stance] = scope->corner[out->corner[side]].stance[stance];
        out->from_share[side][stance] = slices_estimate(study->slices, span, COACH_LEVEL);
    }
}

static int fill(struct coach *out, const struct coach_study *study, struct error *err)
{
    int newest = fold_tally(study->fold)->last_round;
    int last = study->asked ? study->asked : newest;
    for (int side = 0; side < SIDE_COUNT; side++) {
        struct pad *pad = &out->pad[side];
        read_stances(out, study, (enum side)side);
        pad_read(pad, study->fold, study->rules, out->corner[side], study->asked, study->asked);
        out->most = pad->most > out->most ? pad->most : out->most;
        out->most_target =
            pad->most_target > out->most_target ? pad->most_target : out->most_target;
    }
    for (int round = 1; round <= last; round++) {
        out->round[out->rounds++] = read_round(out, study, round);
    }
    out->round[out->rounds] = read_round(out, study, 0);
    out->first = out->rounds > COACH_ROUNDS ? out->rounds - COACH_ROUNDS : 0;
    out->listed = out->rounds + (last == newest);
    return coach_say(out, study, err);
}

int coach_init(struct coach *out, const struct fold *fold, const struct rules *rules,
               const struct desk_sign *signs, enum corner corner, int round, int64_t now_ms,
               struct error *err)
{
    struct stream stream = {NULL, 0};
    struct slices slices = {.room = NULL};
    struct coach_study study = {fold, rules, &slices, round};
    memset(out, 0, sizeof *out);
    out->corner[SIDE_WE] = corner;
    out->corner[SIDE_THEY] = corner_other(corner);
    int code = stream_init(&stream, fold, err);
    code = code ? code : slices_init(&slices, fold, &stream, signs, now_ms, err);
    code = code ? code : fill(out, &study, err);
    slices_release(&slices);
    stream_release(&stream);
    return code;
}
