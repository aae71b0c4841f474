/* Rule sets and cards for the tests of the officials' side. */
#ifndef TEST_OFFICIALS_H
#define TEST_OFFICIALS_H

#include <stdlib.h>
#include <string.h>

#include "ringtally/bout/decision.h"
#include "ringtally/base/file.h"

#define R CORNER_RED
#define B CORNER_BLUE
#define N CORNER_NONE

static inline struct rules load_rules(const char *id)
{
    struct rules rules = {0};
    struct error err = {0};
    char path[256] = "", *text = NULL;
    size_t size = 0;
    snprintf(path, sizeof path, "%s/shared/rules/%s.ini", SOURCE_DIR, id);
    assert_int_equal(file_read(&text, &size, path, &err), 0);
    if (rules_parse(&rules, text, size, id, &err)) {
        fail_msg("%s", err.text);
    }
    free(text);
    return rules;
}

static inline void override(struct rules *rules, const char *key, const char *value)
{
    struct error err = {0};
    if (rules_override(rules, key, value, &err)) {
        fail_msg("%s", err.text);
    }
}

/* A judge's card, "10-9 9-10 9.5-10", added as the next judge's. */
static inline void add_card(struct scorecard *card, const struct rules *rules, const char *text)
{
    char red[8] = "", blue[8] = "";
    int used = 0, round = 0;
    card->judges++;
    for (; sscanf(text, " %7[0-9.]-%7[0-9.]%n", red, blue, &used) == 2; text += used) {
        char warning[256] = "";
        int half[CORNER_COUNT] = {0};
        assert_int_equal(score_parse(&half[R], rules, red, NULL), 0);
        assert_int_equal(score_parse(&half[B], rules, blue, NULL), 0);
        assert_int_equal(scorecard_set(card, rules, ROUND_MAX, card->judges, ++round, half[R],
                                       half[B], warning, sizeof warning, NULL),
                         0);
    }
}

#endif
