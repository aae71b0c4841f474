/* cmd_release.c: `ringtally release`: what a producer holds, and a person's word that it may go on
 * air, or may not after all. */
#include <inttypes.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "cli/cli.h"
#include "ringtally/base/when.h"

#define ID_LEAST 4 /* digits of a desk's uid */
#define ID_SIZE  64

/* "1a2b-17": as many digits of the desk as tell it from the others. */
static void write_id(char out[ID_SIZE], const struct desk_row *desks, int count,
                     struct entry_name name)
{
    int digits = ID_LEAST;
    for (int i = 0; i < count; i++) {
        while (i != name.desk && digits < 32 &&
               strncmp(desks[i].uid, desks[name.desk].uid, (size_t)digits) == 0) {
            digits++;
        }
    }
    snprintf(out, ID_SIZE, "%.*s-%" PRId64, digits, desks[name.desk].uid, name.seq);
}

/* Whether the word means the item: its id, its kind, or all. */
static bool is_meant(const char *word, const struct gate_item *item, const struct desk_row *desks)
{
    size_t digits = strspn(word, "0123456789abcdef");
    char seq[24];
    snprintf(seq, sizeof seq, "-%" PRId64, item->name.seq);
    return strcmp(word, "all") == 0 || strcmp(word, gate_kind_names[item->kind]) == 0 ||
           (digits >= ID_LEAST && strncmp(word, desks[item->name.desk].uid, digits) == 0 &&
            strcmp(word + digits, seq) == 0);
}

static void print_item(const struct reading *reading, const struct gate_item *item)
{
    const struct desk_row *desks = NULL;
    int count = fold_desks(reading->fold, &desks);
    char id[ID_SIZE], words[128], moment[WHEN_SIZE], time[WHEN_SIZE], line[256];
    write_id(id, desks, count, item->name);
    entry_words(words, sizeof words, &item->now);
    snprintf(line, sizeof line, "%s%s",
             item->now.kind == ENTRY_SCORE ? "" : entry_corner(&item->now), words);
    printf("%-9s %-10s R%d %-6s %-40s %s", item->released ? "released" : "waiting", id,
           item->now.round, when_clock(time, item->now.elapsed_ms), line,
           when_rfc3339(moment, item->since_ms));
    if (item->by.desk >= 0) {
        const struct entry *by = fold_entry(reading->fold, item->by);
        printf("  %s by %s", by && by->code == CODE_RELEASED ? "released" : "withheld",
               desks[item->by.desk].operator_);
    }
    putchar('\n');
}

/* What stands, as it waits or was released. */
static int list(const struct reading *reading, struct error *err)
{
    struct gate_item *items = NULL;
    size_t count = 0;
    int shown = 0;
    int code = gate_items(&items, &count, reading->fold, err);
    for (size_t i = 0; i < count && !code; i++) {
        if (items[i].live) {
            print_item(reading, &items[i]);
            shown++;
        }
    }
    if (!code && !shown) {
        puts("nothing here that a gate could hold: no knockdown, incident, result or score");
    }
    free(items);
    return code ? code : cli_write(NULL, "", 0, err); /* all of it */
}

/* An entry for each that is meant and is not so already. */
static int make_entries(struct entry **out, size_t *out_count, const struct reading *reading,
                        const char *what, bool withdraw, struct error *err)
{
    struct gate_item *items = NULL;
    const struct desk_row *desks = NULL;
    size_t count = 0, meant = 0;
    fold_desks(reading->fold, &desks);
    int code = gate_items(&items, &count, reading->fold, err);
    *out_count = 0;
    *out = code ? NULL : calloc(count + 1, sizeof **out);
    if (!code && !*out) {
        code = error_memory(err);
    }
    for (size_t i = 0; i < count && !code; i++) {
        const struct gate_item *item = &items[i];
        if (item->live && is_meant(what, item, desks)) {
            meant++;
            if (item->released == withdraw) {
                struct entry *entry = &(*out)[(*out_count)++];
                *entry = (struct entry){.kind = ENTRY_RELEASE,
                                        .code = withdraw ? CODE_WITHHELD : CODE_RELEASED};
                gate_text(entry->text, desks, item->name, item->kind);
            }
        }
    }
    free(items);
    if (!code && meant == 0) {
        code = error_set(err, ERROR_MISSING,
                         "%s: nothing of that name; `release BOUT` lists what there is", what);
    } else if (!code && *out_count == 0) {
        code = error_set(err, ERROR_FAILED, "%s: %s already", what, withdraw ? "held" : "released");
    }
    return code;
}

int command_release(const struct call *call, struct error *err)
{
    const char *words[2] = {NULL, NULL};
    const char *by = NULL;
    bool withdraw = false, entered = false;
    const struct cli_option options[] = {
        {"--by", &by, NULL}, {"--withdraw", NULL, &withdraw}, {NULL, NULL, NULL}};
    struct reading reading = {0};
    struct entry *entries = NULL;
    size_t entry_count = 0;
    int count = 0;
    int code = cli_words(call, options, words, 2, &count, err);
    if (!code && count == 0) {
        code = error_set(err, ERROR_USAGE, "release BOUT is needed");
    } else if (!code && count == 1 && (withdraw || by)) {
        code = error_set(err, ERROR_USAGE, "release BOUT WHAT is needed");
    } else if (!code && count == 2 && (!by || !*by)) {
        code = error_set(err, ERROR_USAGE, "--by NAME is needed: a release has a name");
    }
    code = code ? code : cli_reading(&reading, call, words[0], NULL, err);
    if (!code && count == 2) {
        code = make_entries(&entries, &entry_count, &reading, words[1], withdraw, err);
        code = code ? code : data_append(call->db, &reading, by, entries, entry_count, err);
        entered = code == 0;
        code = code ? code : reading_refresh(&reading, err);
    }
    code = code ? code : list(&reading, err);
    free(entries);
    reading_release(&reading);
    return cli_shown(code, entered, err);
}
