/* cmd_rules.c: `ringtally rules` and `ringtally keys`: what rule sets and key maps there are, and
 * what is in them. */
#include <dirent.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "cli/cli.h"
#include "ringtally/base/embedded.h"
#include "ringtally/base/when.h"
#include "ringtally/desk/keymap.h"

#define IDS_MAX 64

/* What the keys of terms mean, as `rules show` says it. */
static const char *const meanings[][2] = {
    {"round_seconds", "length of a round"},
    {"rest_seconds", "length of a rest"},
    {"extension_rounds", "that may follow an even bout"},
    {"extension_seconds", "length of such a round"},
    {"scoring.system", "points a round, or rounds won"},
    {"scoring.lowest", "least that a round's loser gets; 0: not said"},
    {"scoring.half_points", "halves on the cards"},
    {"scoring.even_rounds", "a round may be even"},
    {"scoring.deductions", "who takes points off the cards"},
    {"scoring.tie", "what an even bout is after the scheduled rounds"},
    {"scoring.tie_after_extension", "and after the extension"},
    {"scoring.extension_scored", "the extension alone, or added to the rounds before"},
    {"scoring.naming", "how a vote's decision is named"},
    {"scoring.open", "scores are read out round by round"},
    {"scoring.throws", "throws are scored"},
    {"limits.knockdowns_round", "knockdowns in a round that end it; 0: none"},
    {"limits.knockdowns_bout", "knockdowns in the bout that end it; 0: none"},
    {"limits.counts_round", "counts in a round; 0: none"},
    {"limits.counts_bout", "counts in the bout; 0: none"},
    {"limits.round_limit_ends", "what a round's limit ends"},
    {"limits.warnings_disqualify", "official warnings that disqualify; 0: none"},
    {"kicks.minimum", "kicks that each owes a round; 0: none"},
    {"kicks.counted", "which kicks count for that"},
    {"kicks.limbs", "whether knees do too"},
    {"stops.before_cards", "an accidental foul ends the bout too early for the cards"},
    {"stops.partial_round", "the round that was not finished"},
    {"stops.empty_partial_even", "it is even where nothing happened in it"},
    {"stops.intentional_later", "an intentional foul's injury ends the bout later"},
    {"stops.both_out", "both are counted out"},
    {"stops.cards_from", "from when on an accidental foul sends the bout to the cards"},
};

static const char *meaning_of(const char *key)
{
    for (size_t i = 0; i < sizeof meanings / sizeof *meanings; i++) {
        if (strcmp(meanings[i][0], key) == 0) {
            return meanings[i][1];
        }
    }
    return "";
}

static int by_name(const void *a, const void *b)
{
    return strcmp(a, b);
}

/* Adds "ID" of "ID.ini" unless it is there. */
static void add_id(char ids[][64], int *count, const char *name)
{
    size_t size = strlen(name);
    if (size < 5 || size - 4 >= 64 || strcmp(name + size - 4, ".ini") != 0 || name[0] == '.') {
        return;
    }
    char id[64];
    memcpy(id, name, size - 4);
    id[size - 4] = '\0';
    for (int i = 0; i < *count; i++) {
        if (strcmp(ids[i], id) == 0) {
            return;
        }
    }
    if (*count < IDS_MAX) {
        memcpy(ids[(*count)++], id, size - 3);
    }
}

/* The names of all data files of a folder, the user's own and the built-in ones, in order. */
static int list_ids(char ids[IDS_MAX][64], const char *folder)
{
    char path[4096];
    int count = 0;
    size_t size = strlen(folder);
    for (const struct embedded *file = embedded_files; file->name; file++) {
        if (strncmp(file->name, folder, size) == 0 && file->name[size] == '/') {
            add_id(ids, &count, file->name + size + 1);
        }
    }
    data_own_path(path, sizeof path, folder);
    DIR *own = path[0] ? opendir(path) : NULL;
    for (struct dirent *entry = own ? readdir(own) : NULL; entry; entry = readdir(own)) {
        add_id(ids, &count, entry->d_name);
    }
    if (own) {
        closedir(own);
    }
    qsort(ids, (size_t)count, sizeof ids[0], by_name);
    return count;
}

void cli_rules_names(struct buf *out)
{
    char ids[IDS_MAX][64];
    int count = list_ids(ids, "rules");
    for (int i = 0; i < count; i++) {
        buf_addf(out, "%s%s", i ? " " : "", ids[i]);
    }
}

static int list_rules(struct buf *out)
{
    char ids[IDS_MAX][64];
    int count = list_ids(ids, "rules");
    for (int i = 0; i < count; i++) {
        struct rules rules;
        struct error why = {0};
        char round[WHEN_SIZE];
        char rest[WHEN_SIZE];
        if (data_rules(&rules, ids[i], &why)) {
            buf_addf(out, "%-16s cannot be read: %s\n", ids[i], why.text);
            continue;
        }
        buf_add_fit(out, ids[i], 16);
        buf_adds(out, " ");
        buf_add_fit(out, rules.title, 24);
        buf_addf(out, " %2d x %s, rest %s, %d judges\n", rules.rounds,
                 when_clock(round, rules.round_ms), when_clock(rest, rules.rest_ms), rules.judges);
    }
    return 0;
}

static void strikes_text(struct buf *out, const struct rules *rules)
{
    for (int limb = 0; limb < LIMB_COUNT; limb++) {
        if (!rules->targets[limb]) {
            continue;
        }
        buf_add_fit(out, limb_words[limb], 12);
        for (int target = 0; target < TARGET_COUNT; target++) {
            if (rules->targets[limb] >> target & 1) {
                buf_addf(out, " %s", target_names[target]);
            }
        }
        buf_adds(out, "\n");
    }
}

static int show_rules(struct buf *out, const char *id, struct error *err)
{
    struct rules rules;
    struct rules_key key;
    int code = data_rules(&rules, id, err);
    if (code) {
        return code;
    }
    buf_addf(out, "%s: %s, %d rounds, %d judges\n\nstrikes\n", rules.id, rules.title, rules.rounds,
             rules.judges);
    strikes_text(out, &rules);
    buf_adds(out, "\nfouls\n");
    for (int i = 0; i < rules.fouls; i++) {
        buf_addf(out, "%d %s\n", i + 1, rules.foul[i].words);
    }
    buf_adds(out, "\nwhat a bout's `terms` can set (terms = KEY = VALUE, KEY = VALUE)\n");
    for (size_t i = 0; rules_key(&key, &rules, i); i++) {
        char line[160];
        snprintf(line, sizeof line, "%s = %s", key.key, key.value);
        buf_add_fit(out, line, 38);
        buf_addf(out, " %s (%s)\n", meaning_of(key.key), key.allowed);
    }
    buf_adds(out, "clauses.KEY = TEXT, names.KEY = TEXT: what is cited, what a decision is called\n"
                  "(rounds and judges stand on the bout's own lines)\n");
    return 0;
}

/* The file as it is, with its remarks: what its values come from. */
static int show_file(struct buf *out, const char *folder, const char *id, struct error *err)
{
    char file[4096];
    char *text = NULL;
    size_t size = 0;
    int code = data_file(&text, &size, file, folder, id, err);
    if (!code) {
        buf_add(out, text, size);
    }
    free(text);
    return code;
}

static int list_keys(struct buf *out)
{
    char ids[IDS_MAX][64];
    int count = list_ids(ids, "keymaps");
    for (int i = 0; i < count; i++) {
        struct keymap map;
        struct error why = {0};
        char file[4096];
        char *text = NULL;
        size_t size = 0;
        int code = data_file(&text, &size, file, "keymaps", ids[i], &why);
        code = code ? code : keymap_parse(&map, text, size, file, &why);
        buf_add_fit(out, ids[i], 16);
        buf_addf(out, " %s%s\n", code ? "cannot be read: " : "", code ? why.text : map.title);
        free(text);
    }
    return 0;
}

static int finish(struct buf *out, int code, struct error *err)
{
    if (!code && out->failed) {
        code = error_memory(err);
    }
    code = code ? code : cli_write(NULL, out->text, out->size, err);
    buf_release(out);
    return code;
}

int command_rules(const struct call *call, struct error *err)
{
    const char *others[2] = {NULL, NULL};
    bool file = false;
    const struct cli_option options[] = {{"--file", NULL, &file}, {NULL, NULL, NULL}};
    struct buf out = BUF_INIT;
    int count = 0;
    int code = cli_words(call, options, others, 2, &count, err);
    if (code) {
        return code;
    }
    if (count == 1 && strcmp(others[0], "list") == 0) {
        return finish(&out, list_rules(&out), err);
    }
    if (count == 2 && strcmp(others[0], "show") == 0) {
        code = file ? show_file(&out, "rules", others[1], err) : show_rules(&out, others[1], err);
        return finish(&out, code, err);
    }
    return error_set(err, ERROR_USAGE, "rules list or rules show ID is needed");
}

int command_keys(const struct call *call, struct error *err)
{
    const char *others[2] = {NULL, NULL};
    const struct cli_option options[] = {{NULL, NULL, NULL}};
    struct buf out = BUF_INIT;
    int count = 0;
    int code = cli_words(call, options, others, 2, &count, err);
    if (code) {
        return code;
    }
    if (count == 1 && strcmp(others[0], "list") == 0) {
        return finish(&out, list_keys(&out), err);
    }
    if (count == 2 && strcmp(others[0], "show") == 0) {
        return finish(&out, show_file(&out, "keymaps", others[1], err), err);
    }
    return error_set(err, ERROR_USAGE, "keys list or keys show ID is needed");
}
