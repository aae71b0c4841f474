/* columns.c: figures never touch each other, whatever they are: every page with counts of three,
 * four and five digits, read word by word. */
#include <stdarg.h>
#include <stddef.h>
#include <setjmp.h>
#include <stdint.h>
#include <cmocka.h>

#include <regex.h>

#include "stage.h"

#define ROUNDS 12

/* How a word that has a digit may look. Two that touch make none of these: "302/744131/272",
 * "100%842/1916", "R121016/2004". */
static const char words[] = "^("
                            "[0-9]{1,5}|"                        /* a number */
                            "[0-9]{1,5}/[0-9]{1,5},?|"           /* landed/attempted */
                            "[0-9]{1,5}/|[0-9]{1,5}/(~|\u2026)|" /* broken or cut behind landed */
                            "(100|[0-9]{1,2})%|"
                            "[0-9]{1,4}\\.[0-9](/min)?,?|[0-9]{3,5}/min|"
                            "[0-9]{1,3}-[0-9]{1,3}|" /* an interval */
                            "R[0-9]{1,2}[,:]?|[0-9]{1,2}:[0-9]{2}[,:;]?|"
                            "F[0-9]{1,2}:?|x?[0-9]{1,5}[,;:x.]?|"
                            "lantern-quay-2|-65"
                            ")$";

static bool is_mark(const char *at)
{
    static const char *const marks[] = {"\u25ba", "\u2502", "\u2500", "\u25a0", "|", ">"};
    for (size_t i = 0; i < sizeof marks / sizeof *marks; i++) {
        if (strncmp(at, marks[i], strlen(marks[i])) == 0) {
            return true;
        }
    }
    return false;
}

/* Rows that hold figures: not the digits of the clock, the axes and the trends. */
static bool is_bar(const char *word)
{
    return strstr(word, "\u2500") || strstr(word, "\u2588") || strstr(word, "--") ||
           strchr(word, '#') || strchr(word, '_');
}

static void check_row(const char *line, regex_t *good, const char *where)
{
    char row[4096];
    char *save = NULL;
    snprintf(row, sizeof row, "%s", line);
    for (char *at = row; *at; at++) { /* a mark stands in the gap before a cell */
        if (is_mark(at) && ((unsigned char)*at >= 0x80)) {
            memset(at, ' ', 3);
        } else if (is_mark(at)) {
            *at = ' ';
        }
    }
    for (char *word = strtok_r(row, " ", &save); word; word = strtok_r(NULL, " ", &save)) {
        if (strpbrk(word, "0123456789") && !is_bar(word) && regexec(good, word, 0, NULL, 0) != 0) {
            fail_msg("%s: '%s' in: %s", where, word, line);
        }
    }
}

static void check_frame(struct stage *stage, int rows, int columns, bool ascii, regex_t *good)
{
    struct frame frame;
    char where[64];
    char *save = NULL;
    stage_compose(stage, &frame, rows, columns, ascii);
    char *text = frame_text(&frame);
    assert_non_null(text);
    snprintf(where, sizeof where, "page %d, %dx%d%s", (int)desk_page(stage->desk), columns, rows,
             ascii ? ", ASCII" : "");
    strtok_r(text, "\n", &save); /* the title is no table */
    for (char *line = strtok_r(NULL, "\n", &save); line; line = strtok_r(NULL, "\n", &save)) {
        /* Trends and axes are drawn in digits and letters where there are no blocks. */
        bool drawn = strstr(line, "last minute") || strstr(line, "landed       ") ||
                     strstr(line, "RUNNING") || strstr(line, "R1-") || strstr(line, "R1\u2500");
        if (!drawn) {
            check_row(line, good, where);
        }
    }
    free(text);
    frame_release(&frame);
}

/* `each` strikes into each cell of the rules, both corners, in each of the rounds from `first` on;
 * every third lands. Malloc'd. */
static struct entry *many(size_t *count, const struct bout *bout, int first, int each)
{
    struct rules rules;
    struct error err = {0};
    char name[64];
    snprintf(name, sizeof name, "rules/%s.ini", bout->rules);
    const struct embedded *text = embedded_find(name);
    assert_non_null(text);
    assert_int_equal(rules_parse(&rules, text->data, text->size, name, &err), 0);
    size_t room = (size_t)((ROUNDS - first + 1) * CORNER_COUNT * LIMB_COUNT * TARGET_COUNT * each +
                           2 * ROUNDS);
    struct entry *entries = calloc(room + 3, sizeof *entries);
    assert_non_null(entries);
    int64_t now = STAGE_START - ROUNDS * 240000;
    *count = 0;
    for (int code = CODE_RED; code <= CODE_CLOCK; code++) {
        entries[(*count)++] = (struct entry){
            .kind = ENTRY_OFFICIAL, .code = (uint8_t)code, .utc_ms = now - 1000, .round = 1};
    }
    for (int round = first; round <= ROUNDS; round++, now += 240000) {
        entries[(*count)++] = (struct entry){
            .kind = ENTRY_CLOCK, .code = CODE_START, .utc_ms = now, .round = (uint8_t)round};
        for (int i = 0; i < each * CORNER_COUNT * LIMB_COUNT * TARGET_COUNT; i++) {
            int limb = i / TARGET_COUNT % LIMB_COUNT;
            int target = i % TARGET_COUNT;
            bool refined = limb == LIMB_LEFT_KNEE || limb == LIMB_RIGHT_KNEE;
            if (refined || !rules_allow(&rules, (enum limb)limb, (enum target)target)) {
                continue;
            }
            struct entry *entry = &entries[(*count)++];
            *entry = (struct entry){.kind = ENTRY_STRIKE,
                                    .utc_ms = now + i / each,
                                    .round = (uint8_t)round,
                                    .elapsed_ms = i / each};
            entry->strike.corner = (uint8_t)(i / (LIMB_COUNT * TARGET_COUNT) % CORNER_COUNT);
            entry->strike.limb = (uint8_t)limb;
            entry->strike.target = (uint8_t)target;
            entry->strike.outcome = *count % 3 ? OUTCOME_ATTEMPTED : OUTCOME_LANDED;
        }
    }
    for (size_t i = 0; i < *count; i++) {
        entries[i].name = entries[i].subject = (struct entry_name){0, (int64_t)i + 1};
        entries[i].undoes = ENTRY_NONE;
        entries[i].at_ms = entries[i].utc_ms;
    }
    return entries;
}

static void check_all(const char *rules, int first, int each)
{
    static const int sizes[][2] = {{24, 80}, {30, 100}, {40, 140}, {24, 110}, {60, 200}};
    regex_t good;
    struct stage stage;
    struct bout bout = stage_bout;
    size_t count = 0;
    snprintf(bout.rules, sizeof bout.rules, "%s", rules);
    bout.rounds = ROUNDS;
    struct entry *entries = many(&count, &bout, first, each);
    stage_open_with(&stage, &bout, false, entries, count);
    assert_int_equal(regcomp(&good, words, REG_EXTENDED | REG_NOSUB), 0);
    for (int page = 0; page < PAGE_CHECK; page++) {
        /* Remarks are sentences, not columns. */
        for (size_t i = 0; page != PAGE_REMARKS && i < sizeof sizes / sizeof *sizes; i++) {
            check_frame(&stage, sizes[i][0], sizes[i][1], false, &good);
            check_frame(&stage, sizes[i][0], sizes[i][1], true, &good);
        }
        stage_key(&stage, KEY_OF_TAB, 500);
    }
    const struct tally *tally = fold_tally(desk_fold(stage.desk));
    assert_true(tally->all.corner[CORNER_BLUE].all.attempted >= 1000);
    regfree(&good);
    stage_close(&stage);
    free(entries);
}

/* What twelve rounds of boxing bring: three digits a target, four in all. */
static void panel_compose__a_long_bout__columns_apart(void **state)
{
    (void)state;
    check_all("boxing", 1, 25);
    check_all("muay-thai", 1, 9);
}

/* Four digits in each cell of one round. */
static void panel_compose__absurd_counts__columns_apart(void **state)
{
    (void)state;
    check_all("kickboxing", ROUNDS, 1016);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(panel_compose__a_long_bout__columns_apart),
        cmocka_unit_test(panel_compose__absurd_counts__columns_apart),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
