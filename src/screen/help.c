/* help.c: what the keys do, from the table of operator actions and the key map in use. */
#include <stdio.h>
#include <string.h>

#include "ringtally/desk/reel.h"
#include "screen/scene.h"

#define KEY_COLUMNS 5
#define TWO_COLUMNS 72 /* from this width on */
#define ITEMS       (ACTION_COUNT + TRANSPORT_COUNT + 8)
#define HELP_BYTES  160

struct item {
    char keys[24];
    char text[HELP_BYTES];
};

const char *key_mark(char word[16], int32_t key)
{
    static const struct {
        int32_t key;
        const char *mark;
    } marks[] = {{KEY_OF_BACKSPACE, "Bksp"},      {KEY_OF_LEFT, "\u2190"},
                 {KEY_OF_RIGHT, "\u2192"},        {KEY_OF_UP, "\u2191"},
                 {KEY_OF_DOWN, "\u2193"},         {KEY_OF_BACKTAB, "S-Tab"},
                 {KEY_OF_SHIFT_LEFT, "S-\u2190"}, {KEY_OF_SHIFT_RIGHT, "S-\u2192"},
                 {KEY_OF_PAGE_UP, "PgUp"},        {KEY_OF_PAGE_DOWN, "PgDn"},
                 {KEY_OF_INSERT, "Ins"},          {KEY_OF_DELETE, "Del"}};
    for (size_t i = 0; i < sizeof marks / sizeof *marks; i++) {
        if (marks[i].key == key) {
            return marks[i].mark;
        }
    }
    return key_word(word, key);
}

static void add_key(char out[24], int32_t key)
{
    char word[16];
    size_t used = strlen(out);
    if (key != KEY_OF_NONE) {
        const char *mark = key_mark(word, key);
        bool again = used && strncmp(mark, "S-", 2) == 0; /* beside another with Shift */
        snprintf(out + used, 24 - used, "%s%s", used ? " " : "", again ? mark + 2 : mark);
    }
}

/* Two actions that stand in one line: their names differ in one of these words. */
static const char *const pairs[][2] = {
    {"red_", "blue_"}, {"_less", "_more"}, {"_newer", "_older"}, {"_minus", "_plus"}};

/* The second of a pair for its first, or ACTION_NONE. *second: the action itself is one. */
static enum action twin_of(int action, bool *second)
{
    const char *name = action_names[action];
    *second = false;
    for (size_t i = 0; i < sizeof pairs / sizeof *pairs; i++) {
        const char *at = strstr(name, pairs[i][0]);
        char wanted[48];
        *second = *second || strstr(name, pairs[i][1]);
        if (at) {
            snprintf(wanted, sizeof wanted, "%.*s%s%s", (int)(at - name), name, pairs[i][1],
                     at + strlen(pairs[i][0]));
            int found = name_index(action_names, ACTION_COUNT, wanted);
            return found < 0 ? ACTION_NONE : (enum action)found;
        }
    }
    return ACTION_NONE;
}

/* Both helps in one: the word that differs becomes "this/that". */
static void shared_text(char *out, const char *one, const char *other)
{
    size_t same = 0;
    while (one[same] && one[same] == other[same]) {
        same++;
    }
    while (same > 0 && one[same - 1] != ' ') {
        same--;
    }
    /* Without the colon that both words may end with. */
    snprintf(out, HELP_BYTES, "%.*s%.*s/%s", (int)same, one, (int)strcspn(one + same, " :"),
             one + same, other + same);
}

/* What may follow the keys of incidents. */
static void letters_item(struct item *item, const struct keymap *keymap)
{
    item->keys[0] = '\0';
    add_key(item->keys, keymap->action[ACTION_RED_INCIDENT]);
    add_key(item->keys, keymap->action[ACTION_BLUE_INCIDENT]);
    size_t used = 0;
    for (int i = 0; i < INCIDENT_CHOICES && used < HELP_BYTES; i++) {
        used += (size_t)snprintf(item->text + used, HELP_BYTES - used, "%s%s", i ? ", " : "then ",
                                 incident_choices[i]);
    }
}

static int collect(struct item *items, const struct scene *scene)
{
    const struct keymap *keymap = scene->keymap;
    static const struct item fixed[] = {
        {"pad", "attempted; with Shift: landed"},
        {"Del", "in the log: void, or count again"},
        {"Ins +", "in the log: insert a strike"},
        {"Esc", "leaves log, prompt or help"},
    };
    struct reel_view reel;
    int count = 0;
    bool attached = desk_reel(scene->desk, &reel);
    bool on_recording = attached && reel.on_recording;
    for (int i = 0; on_recording && i < TRANSPORT_COUNT; i++) {
        struct item *item = &items[count];
        item->keys[0] = '\0';
        add_key(item->keys, keymap->transport[i]);
        snprintf(item->text, sizeof item->text, "%s", transport_help[i]);
        count += item->keys[0] != '\0';
    }
    items[count++] = fixed[0];
    for (int action = 0; action < ACTION_COUNT; action++) {
        struct item *item = &items[count];
        bool second = false;
        enum action twin = twin_of(action, &second);
        bool taken =
            on_recording && keymap_transport(keymap, keymap->action[action]) != TRANSPORT_COUNT;
        bool hidden = taken || (action == ACTION_LOOK && !attached);
        if (second || hidden) {
            continue; /* stands beside its first; its key is the player's, or does nothing here */
        }
        item->keys[0] = '\0';
        add_key(item->keys, keymap->action[action]);
        if (twin == ACTION_NONE) {
            snprintf(item->text, sizeof item->text, "%s", action_help[action]);
        } else {
            add_key(item->keys, keymap->action[twin]);
            shared_text(item->text, action_help[action], action_help[twin]);
        }
        count += item->keys[0] != '\0';
    }
    for (size_t i = 1; i < sizeof fixed / sizeof *fixed; i++) {
        items[count++] = fixed[i];
    }
    letters_item(&items[count++], keymap);
    return count;
}

/* Bytes of `text` (ASCII) that make a line of at most `columns`. */
static int line_length(const char *text, int columns)
{
    int length = (int)strlen(text);
    if (length <= columns) {
        return length;
    }
    for (length = columns; length > 0 && text[length] != ' '; length--) {
    }
    return length > 0 ? length : columns;
}

static int item_rows(const struct item *item, int columns)
{
    int rows = 0;
    for (const char *at = item->text; *at; rows++) {
        at += line_length(at, columns);
        at += *at == ' ';
    }
    return rows;
}

static int half_columns(int columns)
{
    return columns >= TWO_COLUMNS ? columns / 2 : columns;
}

/* Rows of the first column when `count` items are split as evenly as can be; *split = items there.
 */
static int balance(const struct item *items, int count, int columns, int *split)
{
    int text = half_columns(columns) - KEY_COLUMNS - 2;
    int total = 0;
    int rows = 0;
    for (int i = 0; i < count; i++) {
        total += item_rows(&items[i], text);
    }
    *split = count;
    if (columns < TWO_COLUMNS) {
        return total;
    }
    for (*split = 0; rows < total - rows; (*split)++) {
        rows += item_rows(&items[*split], text);
    }
    return rows;
}

int help_rows(const struct scene *scene, int columns)
{
    struct item items[ITEMS];
    int split = 0;
    int count = collect(items, scene);
    return 1 + balance(items, count, columns, &split);
}

static void item_draw(struct frame *frame, const struct item *item, int row, int column,
                      int columns)
{
    int text = columns - KEY_COLUMNS - 2;
    frame_put(frame, row, column + 1, 0, STYLE_STRONG, item->keys);
    for (const char *at = item->text; *at; row++) {
        int length = line_length(at, text);
        frame_putf(frame, row, column + KEY_COLUMNS + 2, 0, STYLE_PLAIN, "%.*s", length, at);
        at += length;
        at += *at == ' ';
    }
}

void help_draw(const struct scene *scene, const struct area *area)
{
    struct item items[ITEMS];
    char title[128];
    int split = 0;
    int count = collect(items, scene);
    int columns = half_columns(area->columns);
    balance(items, count, area->columns, &split);
    snprintf(title, sizeof title, "keys (%s)", scene->keymap->title);
    put_rule(scene->frame, area->row, area->column, area->columns, title);
    int row = area->row + 1;
    for (int i = 0; i < count; i++) {
        bool second = i >= split;
        if (i == split) {
            row = area->row + 1;
        }
        int rows = item_rows(&items[i], columns - KEY_COLUMNS - 2);
        if (row + rows <= area->row + area->rows) {
            item_draw(scene->frame, &items[i], row, area->column + (second ? columns : 0), columns);
        }
        row += rows;
    }
}
