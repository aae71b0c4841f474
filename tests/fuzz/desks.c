/* desks.c: any keys at any time into two desks on one bout, all pages painted. */
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "ringtally/data/data.h"
#include "ringtally/desk/desk.h"
#include "ringtally/screen/panel.h"
#include "targets.h"

#define START 1700000000000

static struct {
    bool ready;
    struct bout bout;
    struct rules rules;
    struct keymap keymap;
    struct frame frames[2];
} known;

static struct desk_row rows[2] = {
    {.uid = "aaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaa", .operator_ = "ana", .name = "ana", .corners = 3},
    {.uid = "bbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbb",
     .operator_ = "ben",
     .name = "ben",
     .corners = 3,
     .root = 1},
};

static void prepare(void)
{
    static const char card_text[] = "[card]\nid = n\ntitle = N\ndate = 2026-02-28\n[bout 1]\n"
                                    "rules = kickboxing\nred.name = Ana Lume\nblue.name = Bo Reef\n"
                                    "judges = Ju Dge, Ar Biter, Um Pire\n";
    struct error err = {0};
    struct card card = {0};
    char file[4096];
    char *text = NULL;
    size_t size = 0;
    int code = card_parse(&card, card_text, sizeof card_text - 1, "card", &err);
    if (!code) {
        known.bout = card.bout[0];
    }
    card_release(&card);
    code = code ? code : data_bout_rules(&known.rules, &known.bout, &err);
    code = code ? code : data_file(&text, &size, file, "keymaps", "us-qwerty", &err);
    code = code ? code : keymap_parse(&known.keymap, text, size, file, &err);
    code = code ? code : frame_init(&known.frames[0], 24, 80, false, &err);
    code = code ? code : frame_init(&known.frames[1], 40, 132, true, &err);
    if (code) {
        fuzz_fail("desk", err.text);
    }
    free(text);
    known.ready = true;
}

/* All that both wrote. */
struct written {
    struct entry entries[4096];
    size_t count;
};

static void exchange(struct desk *desks[2], int from, struct written *all, int64_t now)
{
    const struct entry *entries = NULL;
    size_t count = desk_take(desks[from], &entries);
    for (size_t i = 0; i < count; i++) {
        if (entry_fault(&entries[i], 2)) {
            fuzz_fail("the desk wrote what no log takes", entry_fault(&entries[i], 2));
        }
        if (all->count == sizeof all->entries / sizeof *all->entries) {
            fuzz_fail("entries", "too many");
        }
        all->entries[all->count++] = entries[i];
    }
    if (count && desk_learn(desks[!from], NULL, 0, &all->entries[all->count - count], count, now)) {
        fuzz_fail("memory", "");
    }
}

static void paint(struct desk *desk, int64_t now)
{
    struct panel_view view = {.desk = desk, .now_ms = now};
    for (int i = 0; i < 2; i++) {
        panel_compose(&known.frames[i], &view);
    }
}

/* What the desk shows is what a fold of all entries says. */
static void check(const struct desk *desk, const struct written *all)
{
    struct clock_plan plan = clock_plan(&known.rules, known.bout.rounds);
    const struct fold *shown = desk_fold(desk);
    struct fold *fold = fold_new(&plan, &known.bout, FOLD_OFFICIAL);
    const struct entry *entries = NULL;
    if (!fold || fold_desk(fold, &rows[0]) || fold_desk(fold, &rows[1]) ||
        fold_add_all(fold, all->entries, all->count)) {
        fuzz_fail("memory", "");
    }
    if (fold_entries(shown, &entries) != all->count) {
        fuzz_fail("the desk", "knows more or fewer entries than were written");
    }
    if (memcmp(fold_tally(fold), fold_tally(shown), sizeof(struct tally)) != 0) {
        fuzz_fail("the desk", "shows another tally than the log has");
    }
    fold_free(fold);
}

static int32_t key_of(unsigned byte)
{
    return byte < 0x80 ? (int32_t)byte : KEY_OF_ENTER + (int32_t)(byte - 0x80) % 40;
}

void fuzz_desk(const char *text, size_t size)
{
    static struct written all;
    struct desk *desks[2];
    int64_t now = START;
    all.count = 0;
    if (!known.ready) {
        prepare();
    }
    for (int i = 0; i < 2; i++) {
        struct desk_setup setup = {.bout = known.bout,
                                   .rules = known.rules,
                                   .keymap = known.keymap,
                                   .desks = rows,
                                   .desk_count = 2,
                                   .self = i,
                                   .entries = all.entries,
                                   .entry_count = all.count,
                                   .claim = i ? 0 : 7};
        desks[i] = desk_new(&setup, now);
        if (!desks[i]) {
            fuzz_fail("memory", "");
        }
        if (i == 0) { /* the second knows what the first opened with */
            const struct entry *entries = NULL;
            size_t count = desk_take(desks[0], &entries);
            memcpy(all.entries, entries, count * sizeof *entries);
            all.count = count;
        }
    }
    exchange(desks, 1, &all, now);
    /* Two bytes a key: which, and at which desk how much later; some are no key. */
    for (size_t i = 0; i + 1 < size && i < 800; i += 2) {
        unsigned byte = (unsigned char)text[i], when = (unsigned char)text[i + 1];
        static const int waits[] = {0, 30, 90, 200, 500, 1500, 4500, 11000, 61000, 180000};
        int at = when & 1;
        now += waits[(when >> 1) % 10];
        if (byte == 0xff) {
            desk_stepped(desks[at], ((int64_t)when - 128) * 60000, now);
        } else if (byte == 0xfe) {
            int32_t keys[DESK_BURST];
            for (int k = 0; k < DESK_BURST; k++) {
                keys[k] = "qwas"[k % 4];
            }
            desk_hold(desks[at], keys, DESK_BURST, now);
        } else {
            desk_tick(desks[at], now);
            exchange(desks, at, &all, now);
            desk_key(desks[at], key_of(byte), now, 0);
        }
        exchange(desks, at, &all, now);
        paint(desks[at], now);
    }
    for (int i = 0; i < 2; i++) {
        desk_tick(desks[i], now + 20000);
        exchange(desks, i, &all, now + 20000);
    }
    check(desks[0], &all);
    check(desks[1], &all);
    desk_free(desks[0]);
    desk_free(desks[1]);
}
