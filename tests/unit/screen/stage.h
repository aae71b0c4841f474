/* stage.h: a desk that was typed at, and frames of it held against the texts in expected/.
 * RINGTALLY_WRITE_EXPECTED=1 writes them anew, for a look at the difference. Included behind
 * cmocka.h. */
#ifndef STAGE_H
#define STAGE_H

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "ringtally/base/embedded.h"
#include "ringtally/base/file.h"
#include "ringtally/screen/panel.h"

#define STAGE_START 1700000000000 /* any moment will do */

struct stage {
    struct desk *desk;
    int64_t now_ms;
    struct saved_state saved;
    const char *script;
};

static const struct bout stage_bout = {
    .card = "lantern-quay-2",
    .number = 3,
    .weight = "women -65 kg",
    .rules = "kickboxing",
    .fighter = {{.name = "Ilse Adão Brandvold", .short_name = "Brandvold"},
                {.name = "Mirjam Ødegård-Quist", .short_name = "Quist", .stance = STANCE_SOUTHPAW}},
};

/* With entries that are logged already, all of the first desk. */
static void stage_open_with(struct stage *stage, const struct bout *bout, bool shadow,
                            const struct entry *entries, size_t count)
{
    static const struct desk_row rows[] = {
        {.uid = "aaaa", .name = "Ana Lima", .operator_ = "Ana Lima", .corners = 3, .root = 0},
        {.uid = "bbbb", .name = "Bo", .operator_ = "Bo", .corners = 3, .root = 1, .shadow = true}};
    struct desk_setup setup = {.bout = *bout,
                               .desks = rows,
                               .desk_count = 2,
                               .self = shadow,
                               .claim = shadow ? 0 : 7,
                               .entries = entries,
                               .entry_count = count};
    struct error err = {0};
    char name[64];
    snprintf(name, sizeof name, "rules/%s.ini", bout->rules);
    const struct embedded *rules = embedded_find(name);
    const struct embedded *keys = embedded_find("keymaps/us-qwerty.ini");
    assert_non_null(rules);
    assert_int_equal(rules_parse(&setup.rules, rules->data, rules->size, name, &err), 0);
    assert_int_equal(rules_terms(&setup.rules, bout->terms, &err), 0);
    assert_int_equal(keymap_parse(&setup.keymap, keys->data, keys->size, "keys", &err), 0);
    *stage = (struct stage){.now_ms = STAGE_START};
    stage->desk = desk_new(&setup, stage->now_ms);
    assert_non_null(stage->desk);
}

static inline void stage_open_as(struct stage *stage, const struct bout *bout, bool shadow)
{
    stage_open_with(stage, bout, shadow, NULL, 0);
}

static inline void stage_open(struct stage *stage, const struct bout *bout)
{
    stage_open_as(stage, bout, false);
}

static inline void stage_close(struct stage *stage)
{
    desk_free(stage->desk);
}

static void stage_key(struct stage *stage, int32_t key, int wait_ms)
{
    const struct entry *entries = NULL;
    stage->now_ms += wait_ms;
    desk_key(stage->desk, key, stage->now_ms, 0);
    stage->saved.given += (int64_t)desk_take(stage->desk, &entries);
    stage->saved.saved = stage->saved.given;
}

/* Each character a key, `wait_ms` before each. */
static inline void stage_type(struct stage *stage, const char *keys, int wait_ms)
{
    for (; *keys; keys++) {
        stage_key(stage, *keys, wait_ms);
    }
}

/* A round as it may go: 90 strikes of both corners, then the bell. */
static inline void stage_round(struct stage *stage, unsigned seed)
{
    static const char keys[] = "qwWeEsdafFvVVzrtgbiIIoOkKlLjmM/?/uh;np";
    stage_key(stage, KEY_OF_ENTER, 1000);
    for (int i = 0; i < 90; i++) {
        seed = seed * 1103515245u + 12345u;
        stage_key(stage, keys[(seed >> 16) % (sizeof keys - 1)], 900 + (int)(seed >> 20) % 1800);
    }
    stage->now_ms += 180000;
}

static void stage_compose(struct stage *stage, struct frame *frame, int rows, int columns,
                          bool ascii)
{
    struct error err = {0};
    struct panel_view view = {.desk = stage->desk,
                              .saved = &stage->saved,
                              .now_ms = stage->now_ms,
                              .script = stage->script};
    desk_tick(stage->desk, stage->now_ms);
    assert_int_equal(frame_init(frame, rows, columns, ascii, &err), 0);
    panel_compose(frame, &view);
}

static inline void stage_expect(struct stage *stage, int rows, int columns, bool ascii,
                                const char *name)
{
    char path[512];
    char *expected = NULL;
    size_t size = 0;
    struct error err = {0};
    struct frame frame;
    stage_compose(stage, &frame, rows, columns, ascii);
    char *text = frame_text(&frame);
    assert_non_null(text);
    snprintf(path, sizeof path, "%s/tests/unit/screen/expected/%s.txt", SOURCE_DIR, name);
    if (getenv("RINGTALLY_WRITE_EXPECTED")) {
        assert_int_equal(file_write(path, text, strlen(text), &err), 0);
    }
    assert_int_equal(file_read(&expected, &size, path, &err), 0);
    assert_string_equal(text, expected);
    free(expected);
    free(text);
    frame_release(&frame);
}

/* Row of the frame that holds the text, or -1; *column = where. */
static inline int stage_find(const struct frame *frame, const char *wanted, int *column)
{
    char *text = frame_text(frame);
    int row = 0;
    int found = -1;
    assert_non_null(text);
    for (char *line = text; line && *line; row++) {
        char *end = strchr(line, '\n');
        *end = '\0';
        char *at = strstr(line, wanted);
        if (at) {
            found = row;
            *column = (int)(at - line); /* right where the line is ASCII up to there */
            break;
        }
        line = end + 1;
    }
    free(text);
    return found;
}

static inline enum style stage_style(const struct frame *frame, int row, int column)
{
    return (enum style)frame->cell[row * frame->columns + column].style;
}

#endif
