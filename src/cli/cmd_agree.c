/* cmd_agree.c: `ringtally agree`: how far the desks of a bout agree. */
#include <stdlib.h>
#include <string.h>

#include "cli/cli.h"
#include "ringtally/sheet/agree_sheet.h"
#include "ringtally/sheet/reference_sheet.h"

/* What the words ask for. --desk comes more than once, so it is taken out before the others are
 * sorted. */
struct agree_call {
    const char *bout, *window, *format, *reference;
    const char *desk[AGREE_DESKS_MAX];
    int desks;
};

static int take_desk(struct agree_call *out, const char *value, struct error *err)
{
    if (!value || !*value) {
        return error_set(err, ERROR_USAGE, "--desk needs a value");
    }
    if (out->desks == AGREE_DESKS_MAX) {
        return error_set(err, ERROR_USAGE, "--desk %s: at most %d desks", value, AGREE_DESKS_MAX);
    }
    out->desk[out->desks++] = value;
    return 0;
}

static int read_words(struct agree_call *out, const struct call *call, struct error *err)
{
    const struct cli_option options[] = {{"--window", &out->window, NULL},
                                         {"--format", &out->format, NULL},
                                         {"--reference", &out->reference, NULL},
                                         {NULL, NULL, NULL}};
    struct call rest = *call;
    int count = 0;
    int code = 0;
    rest.words = calloc((size_t)call->count + 1, sizeof *rest.words);
    rest.count = 0;
    if (!rest.words) {
        return error_memory(err);
    }
    for (int i = 0; !code && i < call->count; i++) {
        char *word = call->words[i];
        if (strcmp(word, "--desk") == 0) {
            i++;
            code = take_desk(out, i < call->count ? call->words[i] : NULL, err);
        } else if (strncmp(word, "--desk=", 7) == 0) {
            code = take_desk(out, word + 7, err);
        } else {
            rest.words[rest.count++] = word;
        }
    }
    code = code ? code : cli_words(&rest, options, &out->bout, 1, &count, err);
    bool against = out->reference != NULL;
    if (!code && (count == 0 || (against ? out->desks > 1 || out->window : out->desks < 2))) {
        code = error_set(err, ERROR_USAGE,
                         "agree BOUT --desk A --desk B, or --reference DESK [--desk LIVE], is "
                         "needed");
    }
    free(rest.words);
    return code;
}

static bool is_tagging(const struct desk_row *desk)
{
    return desk->corners != 0; /* a desk that only signed tags none */
}

/* "no such desk" and the like, with all desks that there are. */
static int refuse(const struct reading *reading, const char *word, const char *why,
                  struct error *err)
{
    const struct desk_row *desks = NULL;
    int count = fold_desks(reading->fold, &desks);
    struct buf known = BUF_INIT;
    for (int i = 0; i < count; i++) {
        if (desks[i].root == i && is_tagging(&desks[i])) {
            buf_addf(&known, "%s%s (%.8s%s)", known.size ? ", " : "", desks[i].name, desks[i].uid,
                     desks[i].shadow ? ", shadow" : "");
        }
    }
    int code = known.failed ? error_memory(err)
                            : error_set(err, ERROR_FAILED, "--desk %s: %s on %s/%d; %s%s", word,
                                        why, reading->bout.card, reading->bout.number,
                                        known.size ? "its desks: " : "it has no desks",
                                        known.size ? known.text : "");
    buf_release(&known);
    return code;
}

/* By name, else by the start of its uid. */
static int find_desk(int *out, const struct reading *reading, const char *word, struct error *err)
{
    const struct desk_row *desks = NULL;
    int count = fold_desks(reading->fold, &desks);
    int found = -1;
    for (int by_uid = 0; by_uid < 2 && found < 0; by_uid++) {
        for (int i = 0; i < count; i++) {
            bool match = by_uid ? strncmp(desks[i].uid, word, strlen(word)) == 0
                                : strcmp(desks[i].name, word) == 0;
            if (!match || !is_tagging(&desks[i])) {
                continue;
            }
            if (found >= 0 && found != desks[i].root) {
                return refuse(reading, word, "more than one desk is called so", err);
            }
            found = desks[i].root;
        }
    }
    *out = found;
    return found < 0 ? refuse(reading, word, "no such desk", err) : 0;
}

static int find_desks(int roots[AGREE_DESKS_MAX], uint8_t *corners, const struct agree_call *words,
                      const struct reading *reading, struct error *err)
{
    *corners = 1 << CORNER_RED | 1 << CORNER_BLUE;
    for (int i = 0; i < words->desks; i++) {
        int code = find_desk(&roots[i], reading, words->desk[i], err);
        if (code) {
            return code;
        }
        for (int k = 0; k < i; k++) {
            if (roots[k] == roots[i]) {
                return refuse(reading, words->desk[i], "named twice", err);
            }
        }
        *corners &= agree_corners(reading->fold, roots[i]);
    }
    return *corners ? 0
                    : error_set(err, ERROR_FAILED, "these desks have no corner of %s/%d in common",
                                reading->bout.card, reading->bout.number);
}

/* The live count, or one desk, against the desk that tagged from the recording. */
static int check(const struct agree_call *words, const struct reading *reading, int choice,
                 struct error *err)
{
    static int (*const writers[])(struct buf *, const struct reference_sheet_view *,
                                  struct error *) = {reference_sheet_table, reference_sheet_json};
    const struct desk_row *desks = NULL;
    struct reference reference = {0};
    struct buf out = BUF_INIT;
    int root = -1, live = REFERENCE_OFFICIAL;
    int code = find_desk(&root, reading, words->reference, err);
    if (!code && words->desks > 0) {
        code = find_desk(&live, reading, words->desk[0], err);
    }
    if (!code && live == root) {
        code = refuse(reading, words->desk[0], "that is the reference itself", err);
    }
    if (code) {
        return code;
    }
    uint8_t corners = agree_corners(reading->fold, root) &
                      (live == REFERENCE_OFFICIAL ? reference_official_corners(reading->fold, root)
                                                  : agree_corners(reading->fold, live));
    fold_desks(reading->fold, &desks);
    if (!corners) {
        return error_set(err, ERROR_FAILED, "%s/%d: no corner was tagged live and from a recording",
                         reading->bout.card, reading->bout.number);
    }
    struct reference_sheet_view view = {.bout = &reading->bout,
                                        .reference = &reference,
                                        .by = desks[root].name,
                                        .live = live >= 0 ? desks[live].name : NULL};
    code = reference_make(&reference, reading->fold, &reading->bout, &reading->rules, root, live,
                          corners)
               ? error_memory(err)
               : writers[choice](&out, &view, err);
    code = code ? code : cli_write(NULL, out.text, out.size, err);
    reference_release(&reference);
    buf_release(&out);
    return code;
}

int command_agree(const struct call *call, struct error *err)
{
    static const char *const formats[] = {"table", "json"};
    static int (*const writers[])(struct buf *, const struct agree_sheet_view *,
                                  struct error *) = {agree_sheet_table, agree_sheet_json};
    struct agree_call words = {.format = "table"};
    struct align_options options = ALIGN_DEFAULTS;
    struct reading reading = {0};
    struct agree pairs[AGREE_DESKS_MAX - 1] = {{0}};
    struct agree_many many = {0};
    const struct desk_row *desks = NULL;
    const struct desk_row *rows[AGREE_DESKS_MAX] = {NULL};
    struct buf out = BUF_INIT;
    int roots[AGREE_DESKS_MAX] = {0};
    uint8_t corners = 0;
    int choice = 0;
    int window = options.window_ms;
    int code = read_words(&words, call, err);
    code = code ? code : cli_choice(&choice, "--format", words.format, formats, 2, err);
    if (!code && words.window) {
        code = cli_number(&window, "--window", words.window, 1, ALIGN_WINDOW_MAX, err);
    }
    options.window_ms = window;
    code = code ? code : cli_reading(&reading, call, words.bout, NULL, err);
    if (!code && words.reference) {
        code = check(&words, &reading, choice, err);
        goto cleanup;
    }
    code = code ? code : find_desks(roots, &corners, &words, &reading, err);
    if (code) {
        goto cleanup;
    }
    fold_desks(reading.fold, &desks);
    for (int i = 0; i < words.desks; i++) {
        rows[i] = &desks[roots[i]];
        if (i > 0 && agree_desks(&pairs[i - 1], reading.fold, &reading.bout, roots[0], roots[i],
                                 corners, &options, &reading.rules)) {
            code = error_memory(err);
            goto cleanup;
        }
    }
    if (words.desks > 2 && agree_many_make(&many, pairs, words.desks - 1)) {
        code = error_memory(err);
        goto cleanup;
    }
    struct agree_sheet_view view = {
        .bout = &reading.bout,
        .options = &options,
        .desk = rows,
        .all_desks = desks,
        .desks = words.desks,
        .pair = pairs,
        .many = words.desks > 2 ? &many : NULL,
    };
    code = writers[choice](&out, &view, err);
    code = code ? code : cli_write(NULL, out.text, out.size, err);

cleanup:
    for (int i = 0; i < AGREE_DESKS_MAX - 1; i++) {
        agree_release(&pairs[i]);
    }
    buf_release(&out);
    reading_release(&reading);
    return code;
}
