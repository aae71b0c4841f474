/* sheet_documents.c: writes one document of an invented bout, for programs that are not ours to
 * read. usage: sheet_documents played|empty|hostile|one|corner|long|checked ROUND
 *                              counts-json|counts-csv|heartbeat|FORMAT|coach-CORNER-FORMAT
 */
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "ringtally/sheet/coach_sheet.h"
#include "sample.h"

/* Every limb in every one of 20 rounds, under rules with elbows. */
static void play_long(struct sample *sample)
{
    static const uint8_t limbs[] = {LIMB_LEFT_HAND,   LIMB_RIGHT_HAND, LIMB_LEFT_ELBOW,
                                    LIMB_RIGHT_ELBOW, LIMB_KNEE,       LIMB_LEFT_KNEE,
                                    LIMB_LEFT_LEG,    LIMB_RIGHT_LEG};
    sample_official(sample, 0, CODE_RED);
    sample_official(sample, 0, CODE_CLOCK);
    sample_official(sample, 1, CODE_BLUE);
    for (int round = 1; round <= ROUND_MAX; round++) {
        sample_round(sample, round);
        for (size_t i = 0; i < sizeof limbs; i++) {
            for (int corner = 0; corner < CORNER_COUNT; corner++) {
                sample_strikes(sample, 1 + (round + (int)i) % 9, (enum corner)corner,
                               (enum limb)limbs[i], TARGET_HEAD,
                               (round + corner) % 2 ? OUTCOME_LANDED : OUTCOME_ATTEMPTED, 0);
                sample_strikes(sample, 1 + round % 4, (enum corner)corner, LIMB_RIGHT_LEG,
                               i % 2 ? TARGET_BODY : TARGET_LEG, OUTCOME_LANDED, 0);
            }
        }
        sample->now += 240000;
    }
}

static void play(struct sample *sample, const char *what)
{
    if (strcmp(what, "hostile") == 0) {
        sample_hostile(sample);
    }
    if (strcmp(what, "played") == 0 || strcmp(what, "hostile") == 0) {
        sample_play(sample);
    } else if (strcmp(what, "checked") == 0) {
        sample_checked(sample);
    } else if (strcmp(what, "long") == 0) {
        play_long(sample);
    } else if (strcmp(what, "one") == 0) { /* before any clock */
        sample_official(sample, 0, CODE_RED);
        sample_strikes(sample, 1, CORNER_RED, LIMB_LEFT_HAND, TARGET_HEAD, OUTCOME_LANDED, 0);
    } else if (strcmp(what, "corner") == 0) {
        sample_official(sample, 0, CODE_RED);
        sample_official(sample, 0, CODE_CLOCK);
        sample_round(sample, 1);
        sample_strikes(sample, 40, CORNER_RED, LIMB_KNEE, TARGET_BODY, OUTCOME_LANDED, 0);
    }
}

static int write_document(struct buf *out, const struct sheet_view *view, const char *what,
                          struct error *err)
{
    if (strcmp(what, "counts-json") == 0) {
        return counts_json(out, view, err);
    }
    if (strcmp(what, "heartbeat") == 0) {
        return heartbeat_json(out, view, err);
    }
    if (strcmp(what, "counts-csv") == 0) {
        return counts_csv(out, view, err);
    }
    if (strncmp(what, "coach-", 6) == 0) {
        bool red = strncmp(what + 6, "red-", 4) == 0;
        int coach = name_index(coach_format_names, COACH_FORMATS, what + (red ? 10 : 11));
        return coach < 0 ? ERROR_USAGE
                         : coach_sheet_write(out, view, red ? CORNER_RED : CORNER_BLUE,
                                             (enum coach_format)coach, err);
    }
    int format = name_index(sheet_format_names, SHEET_FORMATS, what);
    return format < 0 ? ERROR_USAGE : sheet_write(out, view, (enum sheet_format)format, err);
}

int main(int argc, char **argv)
{
    struct sample sample;
    struct buf out = BUF_INIT;
    struct error err = {0};
    if (argc != 4) {
        return 2;
    }
    sample_init(&sample);
    play(&sample, argv[1]);
    struct sheet_view view = sample_view(&sample, atoi(argv[2]));
    int code = write_document(&out, &view, argv[3], &err);
    if (code == 0 && fwrite(out.text, 1, out.size, stdout) != out.size) {
        code = ERROR_FAILED;
    }
    buf_release(&out);
    sample_release(&sample);
    return code ? 1 : 0;
}
