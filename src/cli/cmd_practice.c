/* cmd_practice.c: `ringtally practice`: fingers, eyes, and what came of them. */
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <time.h>

#include "cli/cli.h"
#include "ringtally/base/file.h"
#include "ringtally/base/text.h"
#include "ringtally/base/when.h"
#include "ringtally/bout/recording.h"
#include "ringtally/console/rehearsal.h"
#include "ringtally/insight/reference.h"
#include "ringtally/log/practice_store.h"
#include "ringtally/sheet/practice_sheet.h"

#define RECENT 5 /* sessions whose keys are looked at together */

struct practice_words {
    const char *what, *bout, *level, *seconds, *seed, *drill, *operator_, *keymap, *rules;
    const char *keys, *reference, *recording, *report, *format, *output;
    char name[64]; /* the operator's, as it is kept and shown */
    bool calls;
};

struct practice {
    struct practice_words words;
    struct keymap keymap;
    struct rules rules;
    struct bout bout;
    char store[4200];
    struct practice_session session;
    struct practice_cell *cells;
    size_t cell_count;
    char word[CORNER_COUNT][LIMB_COUNT][TARGET_COUNT][16]; /* the keys of the pad */
};

static int read_words(struct practice_words *out, const struct call *call, struct error *err)
{
    const struct cli_option options[] = {{"--level", &out->level, NULL},
                                         {"--seconds", &out->seconds, NULL},
                                         {"--seed", &out->seed, NULL},
                                         {"--drill", &out->drill, NULL},
                                         {"--operator", &out->operator_, NULL},
                                         {"--keymap", &out->keymap, NULL},
                                         {"--rules", &out->rules, NULL},
                                         {"--keys", &out->keys, NULL},
                                         {"--calls", NULL, &out->calls},
                                         {"--reference", &out->reference, NULL},
                                         {"--recording", &out->recording, NULL},
                                         {"--report", &out->report, NULL},
                                         {"--format", &out->format, NULL},
                                         {"-o", &out->output, NULL},
                                         {NULL, NULL, NULL}};
    const char *others[2] = {NULL, NULL};
    int count = 0;
    int code = cli_words(call, options, others, 2, &count, err);
    if (code) {
        return code;
    }
    out->what = others[0] ? others[0] : "fingers";
    out->bout = others[1];
    bool eyes = strcmp(out->what, "eyes") == 0;
    if (!eyes && strcmp(out->what, "fingers") != 0) {
        return error_set(err, ERROR_USAGE, "practice %s: fingers or eyes is needed", out->what);
    }
    if (eyes && !out->report && (!out->bout || !out->reference || !out->recording)) {
        return error_set(err, ERROR_USAGE,
                         "practice eyes BOUT --reference DESK --recording FILE is needed");
    }
    if (!eyes && (out->bout || out->reference || out->recording)) {
        return error_set(err, ERROR_USAGE, "a bout, --reference, --recording go with eyes");
    }
    const char *name = out->report ? out->report : cli_operator(out->operator_);
    return text_clean(out->name, sizeof out->name, name) && out->name[0]
               ? 0
               : error_set(err, ERROR_USAGE, "an operator's name of at most %zu bytes is needed",
                           sizeof out->name - 1);
}

static int read_keymap(struct keymap *out, const char *id, struct error *err)
{
    char file[4096], *text = NULL;
    size_t size = 0;
    int code = data_file(&text, &size, file, "keymaps", id ? id : "us-qwerty", err);
    code = code ? code : keymap_parse(out, text, size, file, err);
    free(text);
    return code;
}

static int read_bars(struct practice_bar bars[LEVELS], struct error *err)
{
    char file[4096], *text = NULL;
    size_t size = 0;
    int code = data_file(&text, &size, file, "practice", "practice", err);
    code = code ? code : practice_bars(bars, text, size, file, err);
    free(text);
    return code;
}

/* practice.db beside the database of the bouts. */
static int find_store(struct practice *practice, const struct call *call, struct error *err)
{
    char path[4096];
    int code = call->db ? 0 : log_default_path(path, sizeof path, err);
    return code ? code
                : practice_store_path(practice->store, sizeof practice->store,
                                      call->db ? call->db : path, err);
}

/* "wer": the cells of those keys alone. */
static int read_drill(struct practice_only *only, const struct practice *practice,
                      struct error *err)
{
    const char *at = practice->words.drill;
    memset(only, 0, sizeof *only);
    while (at && *at) {
        int32_t point = 0;
        int count = 0;
        if (text_grapheme(&at, &point, 1, &count) < 0) {
            break;
        }
        struct meaning meaning = keymap_find(&practice->keymap, point);
        if (meaning.action != ACTION_STRIKE ||
            !rules_allow(&practice->rules, (enum limb)meaning.strike.limb,
                         (enum target)meaning.strike.target)) {
            char word[16];
            return error_set(err, ERROR_USAGE, "--drill: %s is no key of this pad",
                             key_word(word, point));
        }
        only->targets[meaning.strike.corner][meaning.strike.limb] |=
            (uint8_t)(1u << meaning.strike.target);
    }
    return 0;
}

static int32_t key_of(const struct keymap *keymap, const struct strike *strike)
{
    const struct pad_key *pad = &keymap->pad[strike->corner][strike->limb][strike->target];
    return strike->outcome == OUTCOME_LANDED ? pad->landed : pad->attempted;
}

/* The calls as a key script: what a perfect trainee types, at once. */
static int print_calls(const struct practice *practice, const struct practice_call *calls,
                       size_t count, struct error *err)
{
    struct buf out = BUF_INIT;
    for (size_t i = 0; i < count; i++) {
        char line[64];
        buf_adds(&out, keyscript_line(line, calls[i].at_ms,
                                      key_of(&practice->keymap, &calls[i].strike), PRESS_UNKNOWN));
    }
    int code = out.failed
                   ? error_memory(err)
                   : cli_write(practice->words.output, out.text ? out.text : "", out.size, err);
    buf_release(&out);
    return code;
}

static const char *cell_key(void *user, int corner, int limb, int target)
{
    struct practice *practice = user;
    int32_t key = practice->keymap.pad[corner][limb][target].attempted;
    return key == KEY_OF_NONE ? NULL : key_word(practice->word[corner][limb][target], key);
}

static int read_keys(struct script_key **keys, size_t *count, const char *path, struct error *err)
{
    char *text = NULL;
    size_t size = 0;
    int code = file_read(&text, &size, path, err);
    code = code ? code : keyscript_parse(keys, count, text, size, path, err);
    free(text);
    return code;
}

/* Scores, keeps and tells a session. */
static int finish(struct practice *practice, const struct align_strike *called, size_t count,
                  const struct entry *entries, size_t entry_count, struct error *err)
{
    struct practice_session *session = &practice->session;
    struct practice_bar bars[LEVELS];
    struct buf out = BUF_INIT;
    session->at_ms = when_now();
    memcpy(session->operator_, practice->words.name, sizeof session->operator_);
    int code = practice_score(session, &practice->cells, &practice->cell_count, &practice->rules,
                              &practice->bout, called, count, entries, entry_count)
                   ? error_memory(err)
                   : 0;
    code = code ? code : read_bars(bars, err);
    code = code ? code
                : practice_store_add(practice->store, session, practice->cells,
                                     practice->cell_count, err);
    struct practice_view view = {.operator_ = session->operator_,
                                 .sessions = session,
                                 .count = 1,
                                 .cells = practice->cells,
                                 .cell_count = practice->cell_count,
                                 .bars = bars,
                                 .rules = &practice->rules,
                                 .key = cell_key,
                                 .user = practice};
    code = code ? code : practice_session_text(&out, &view, err);
    code = code ? code : cli_write(practice->words.output, out.text, out.size, err);
    buf_release(&out);
    return code;
}

static int run_fingers(struct practice *practice, struct error *err)
{
    const struct practice_words *words = &practice->words;
    struct practice_session *session = &practice->session;
    struct practice_call *calls = NULL;
    struct align_strike *called = NULL;
    struct script_key *keys = NULL;
    struct entry *entries = NULL;
    size_t count = 0, key_count = 0, entry_count = 0;
    struct practice_only only;
    int level = LEVEL_BOUT, seconds = 120, seed = (int)(when_now() / 1000 % 1000000);
    int64_t start_ms = 0;
    int most = practice->rules.round_ms / 1000;
    int code = words->level
                   ? cli_choice(&level, "--level", words->level, practice_level_names, LEVELS, err)
                   : 0;
    code = code || !words->seconds
               ? code
               : cli_number(&seconds, "--seconds", words->seconds, 10, most, err);
    code =
        code || !words->seed ? code : cli_number(&seed, "--seed", words->seed, 0, 999999999, err);
    code = code ? code : read_drill(&only, practice, err);
    *session = (struct practice_session){.kind = PRACTICE_FINGERS,
                                         .level = (uint8_t)level,
                                         .seed = seed,
                                         .ran_ms = (seconds < most ? seconds : most) * 1000};
    if (!code && practice_calls(&calls, &count, &practice->rules, (enum practice_level)level, &only,
                                seed, session->ran_ms - 1500)) {
        code = error_memory(err);
    }
    if (!code && words->calls) {
        code = print_calls(practice, calls, count, err);
        goto cleanup;
    }
    code = code || !words->keys ? code : read_keys(&keys, &key_count, words->keys, err);
    struct rehearsal_setup setup = {.bout = &practice->bout,
                                    .rules = &practice->rules,
                                    .keymap = &practice->keymap,
                                    .calls = calls,
                                    .call_count = count,
                                    .ran_ms = session->ran_ms,
                                    .keys = keys,
                                    .key_count = key_count};
    int32_t planned_ms = session->ran_ms;
    code = code ? code
                : rehearsal_run(&setup, &entries, &entry_count, &start_ms, &session->ran_ms, err);
    called = calloc(count + 1, sizeof *called);
    if (!code && !called) {
        code = error_memory(err);
    }
    if (code) {
        goto cleanup;
    }
    /* Who leaves early is asked for what was called until then. */
    size_t asked = 0;
    int32_t until_ms = session->ran_ms < planned_ms ? session->ran_ms - 1500 : planned_ms;
    while (asked < count && calls[asked].at_ms <= until_ms) {
        called[asked] = (struct align_strike){.strike = calls[asked].strike,
                                              .round = 1,
                                              .elapsed_ms = calls[asked].at_ms,
                                              .at_ms = start_ms + calls[asked].at_ms};
        asked++;
    }
    if (asked == 0) {
        code = error_set(err, ERROR_FAILED, "nothing was called yet: nothing is kept");
        goto cleanup;
    }
    code = finish(practice, called, asked, entries, entry_count, err);

cleanup:
    free(calls);
    free(called);
    free(keys);
    free(entries);
    return code;
}

/* The reference's strikes up to the moment that the trainee came to. */
static size_t keep_seen(struct align_strike *strikes, size_t count, const struct entry *entries,
                        size_t entry_count)
{
    int round = 0, elapsed = 0;
    size_t kept = 0;
    for (size_t i = 0; i < entry_count; i++) {
        const struct entry *entry = &entries[i];
        if (entry->kind == ENTRY_STRIKE &&
            (entry->round > round || (entry->round == round && entry->elapsed_ms > elapsed))) {
            round = entry->round;
            elapsed = entry->elapsed_ms;
        }
    }
    for (size_t i = 0; i < count; i++) {
        if (strikes[i].round < round ||
            (strikes[i].round == round && strikes[i].elapsed_ms <= elapsed)) {
            strikes[kept++] = strikes[i];
        }
    }
    return kept;
}

/* Where in the recording the reference's round began; -1: it has no strike in it. */
static int64_t bell_of(const struct align_strike *strikes, size_t count, int round, int64_t zero_ms)
{
    int64_t bell_ms = -1;
    for (size_t i = 0; i < count; i++) { /* the earliest: no stop is before it, or the shortest */
        int64_t at_ms = strikes[i].at_ms - strikes[i].elapsed_ms - zero_ms;
        if (strikes[i].round == round && !strikes[i].off_clock &&
            (bell_ms < 0 || at_ms < bell_ms)) {
            bell_ms = at_ms;
        }
    }
    return bell_ms;
}

/* The trainee's clock began with a key, and by the recording it is known how late that was: what
 * was typed is placed on the recording's own round clock, so that reactions are whole. */
static void place_by_recording(struct entry *entries, size_t entry_count,
                               const struct align_strike *strikes, size_t count, int64_t zero_ms,
                               int64_t first_frame_ms)
{
    int64_t late_ms[ROUND_MAX + 1] = {0};
    for (size_t i = 0; i < entry_count; i++) {
        struct entry *entry = &entries[i];
        if (entry->kind == ENTRY_CLOCK && entry->code == CODE_START && entry->elapsed_ms == 0) {
            int64_t bell_ms = bell_of(strikes, count, entry->round, zero_ms);
            late_ms[entry->round] = bell_ms < 0 ? 0 : entry->at_ms - first_frame_ms - bell_ms;
        } else if (entry->kind == ENTRY_STRIKE && !entry->off_clock) {
            int64_t at_ms = entry->elapsed_ms + late_ms[entry->round];
            entry->elapsed_ms = at_ms < 0 ? 0 : at_ms > 3600000 ? 3600000 : (int32_t)at_ms;
        }
    }
}

/* The moment on the reference's clock that the first frame stands for; false: it is no recording's.
 */
static bool zero_of(int64_t *zero_ms, const struct fold *fold, int root)
{
    const struct subject *subjects = NULL;
    const struct desk_row *desks = NULL;
    struct recording recording;
    size_t count = fold_subjects(fold, &subjects);
    fold_desks(fold, &desks);
    while (count-- > 0) {
        if (desks[subjects[count].now.name.desk].root == root &&
            recording_read(&recording, &subjects[count].now)) {
            *zero_ms = subjects[count].now.at_ms;
            return true;
        }
    }
    return false;
}

static int find_reference(int *out, const struct fold *fold, const char *name, struct error *err)
{
    const struct desk_row *desks = NULL;
    int count = fold_desks(fold, &desks);
    for (int i = 0; i < count; i++) {
        if (desks[i].root == i && strcmp(desks[i].name, name) == 0) {
            *out = i;
            return 0;
        }
    }
    return error_set(err, ERROR_FAILED, "--reference %s: no desk of that name on this bout", name);
}

static int run_eyes(struct practice *practice, const struct call *call, struct error *err)
{
    const struct practice_words *words = &practice->words;
    struct reading reading = {0};
    struct align_strike *strikes = NULL;
    struct script_key *keys = NULL;
    struct entry *entries = NULL;
    size_t count = 0, key_count = 0, entry_count = 0;
    int64_t start_ms = 0;
    int root = -1;
    int code = cli_reading(&reading, call, words->bout, NULL, err);
    code = code ? code : find_reference(&root, reading.fold, words->reference, err);
    if (!code) {
        practice->bout = reading.bout;
        practice->rules = reading.rules;
        code = agree_read_alone(&strikes, &count, reading.fold, &reading.bout, root, 3)
                   ? error_memory(err)
                   : 0;
    }
    code = code || !words->keys ? code : read_keys(&keys, &key_count, words->keys, err);
    practice->session = (struct practice_session){.kind = PRACTICE_EYES, .level = LEVEL_BOUT};
    struct rehearsal_setup setup = {
        .bout = &practice->bout,
        .rules = &practice->rules,
        .keymap = &practice->keymap,
        .player = {.recording = keys ? NULL : words->recording},
        .keys = keys,
        .key_count = key_count,
    };
    code = code ? code
                : rehearsal_run(&setup, &entries, &entry_count, &start_ms,
                                &practice->session.ran_ms, err);
    int64_t zero_ms = 0;
    if (!code && start_ms > 0 && zero_of(&zero_ms, reading.fold, root)) {
        place_by_recording(entries, entry_count, strikes, count, zero_ms, start_ms);
    }
    size_t seen = code ? 0 : keep_seen(strikes, count, entries, entry_count);
    if (!code && keys && key_count > 0) {
        practice->session.ran_ms = (int32_t)keys[key_count - 1].at_ms;
    }
    if (!code && seen == 0) {
        code = error_set(err, ERROR_FAILED,
                         "nothing was tagged that the reference could be held against");
    }
    code = code ? code : finish(practice, strikes, seen, entries, entry_count, err);
    free(strikes);
    free(keys);
    free(entries);
    reading_release(&reading);
    return code;
}

static int report(struct practice *practice, struct error *err)
{
    static const char *const formats[] = {"text", "json", "html"};
    static int (*const writers[])(struct buf *, const struct practice_view *, struct error *) = {
        practice_report_text, practice_report_json, practice_report_html};
    const struct practice_words *words = &practice->words;
    struct practice_session *sessions = NULL;
    struct practice_bar bars[LEVELS];
    struct buf out = BUF_INIT;
    size_t count = 0;
    int choice = 0;
    int code =
        cli_choice(&choice, "--format", words->format ? words->format : "text", formats, 3, err);
    code = code ? code : read_bars(bars, err);
    code = code ? code
                : practice_store_read(practice->store, words->name, RECENT, &sessions, &count,
                                      &practice->cells, &practice->cell_count, err);
    struct practice_view view = {.operator_ = words->name,
                                 .sessions = sessions,
                                 .count = count,
                                 .cells = practice->cells,
                                 .cell_count = practice->cell_count,
                                 .bars = bars,
                                 .rules = &practice->rules,
                                 .key = cell_key,
                                 .user = practice};
    code = code ? code : writers[choice](&out, &view, err);
    code = code ? code : cli_write(words->output, out.text, out.size, err);
    buf_release(&out);
    free(sessions);
    return code;
}

int command_practice(const struct call *call, struct error *err)
{
    struct practice practice = {0};
    int code = read_words(&practice.words, call, err);
    code = code ? code : read_keymap(&practice.keymap, practice.words.keymap, err);
    code = code ? code
                : data_rules(&practice.rules,
                             practice.words.rules ? practice.words.rules : "kickboxing", err);
    code = code ? code : find_store(&practice, call, err);
    snprintf(practice.bout.card, sizeof practice.bout.card, "practice");
    practice.bout.number = 1;
    snprintf(practice.bout.fighter[CORNER_RED].short_name,
             sizeof practice.bout.fighter[CORNER_RED].short_name, "Red");
    snprintf(practice.bout.fighter[CORNER_BLUE].short_name,
             sizeof practice.bout.fighter[CORNER_BLUE].short_name, "Blue");
    snprintf(practice.bout.fighter[CORNER_RED].name, sizeof practice.bout.fighter[CORNER_RED].name,
             "Red");
    snprintf(practice.bout.fighter[CORNER_BLUE].name,
             sizeof practice.bout.fighter[CORNER_BLUE].name, "Blue");
    if (!code) {
        code = practice.words.report                      ? report(&practice, err)
               : strcmp(practice.words.what, "eyes") == 0 ? run_eyes(&practice, call, err)
                                                          : run_fingers(&practice, err);
    }
    free(practice.cells);
    return code;
}
