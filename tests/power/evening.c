/* evening.c: an evening on a recorded disk. */
#define _GNU_SOURCE
#include "evening.h"

#include <ftw.h>
#include <poll.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

#include "ringtally/base/file.h"
#include "ringtally/base/when.h"
#include "ringtally/console/rescue.h"
#include "ringtally/data/data.h"
#include "ringtally/desk/desk.h"
#include "ringtally/log/keeper.h"
#include "ringtally/log/log_watch.h"
#include "ringtally/log/portable.h"

#define CARD                                                                                       \
    "[card]\nid = night-1\ntitle = %s\ndate = 2026-02-28\n"                                        \
    "[bout 1]\nrules = kickboxing\nred.name = Ana Lume\nblue.name = Bo Reef\n"                     \
    "judges = Ju Dge, Ar Biter\n"                                                                  \
    "[bout 2]\nrules = boxing\nrounds = 6\nred.name = Cy Mast\nblue.name = Dee Keel\n"             \
    "[bout 3]\nrules = kickboxing\nred.name = Ed Sail\nblue.name = Flo Sand\n"

#define FIRST  300 /* entries of the sessions: enough WAL for a checkpoint */
#define SECOND 60
#define OTHER  40

#define must(call)                                                                                 \
    do {                                                                                           \
        struct error err = {0};                                                                    \
        if (call) {                                                                                \
            fprintf(stderr, "power: %s: %s\n", #call, err.text);                                   \
            abort();                                                                               \
        }                                                                                          \
    } while (0)

static int remove_one(const char *path, const struct stat *info, int type, struct FTW *at)
{
    (void)info;
    (void)type;
    return at->level == 0 ? 0 : remove(path);
}

void evening_clear(const char *folder, bool again)
{
    if (nftw(folder, remove_one, 8, FTW_DEPTH | FTW_PHYS)) {
        abort();
    }
    if (!again) {
        rmdir(folder);
    }
}

static void begin(struct evening *out, const char *base, const char *what, const char *db)
{
    *out = (struct evening){.made = NEVER, .renamed = {NEVER, NEVER}};
    out->rescue.done = out->copy.done = out->rescue.begun = out->copy.begun = NEVER;
    snprintf(out->what, sizeof out->what, "%s", what);
    snprintf(out->folder, sizeof out->folder, "%s/evening-XXXXXX", base);
    snprintf(out->db, sizeof out->db, "%s", db);
    if (!mkdtemp(out->folder)) {
        abort();
    }
}

void evening_release(struct evening *evening)
{
    disk_free(evening->disk);
    facts_release(&evening->facts);
    evening_clear(evening->folder, false);
}

static void path_in(char out[512], const struct evening *evening, const char *name)
{
    snprintf(out, 512, "%s/%s", evening->folder, name);
}

static void save_card(struct log *log, const char *title)
{
    char text[1024];
    struct card card = {0};
    snprintf(text, sizeof text, CARD, title);
    must(card_parse(&card, text, strlen(text), "card", &err));
    must(log_card_save(log, &card, &err));
    card_release(&card);
}

static struct entry strike_of(uint64_t *seed, int self, int64_t seq)
{
    static int64_t utc_ms = 1700000000000;
    struct entry entry = {.name = {self, seq},
                          .subject = {self, seq},
                          .undoes = ENTRY_NONE,
                          .utc_ms = utc_ms,
                          .at_ms = utc_ms,
                          .kind = ENTRY_STRIKE,
                          .round = 1};
    utc_ms += 200 + (int64_t)disk_draw(seed, 900);
    entry.strike = (struct strike){.corner = (uint8_t)disk_draw(seed, CORNER_COUNT),
                                   .limb = (uint8_t)disk_draw(seed, LIMB_COUNT),
                                   .target = (uint8_t)disk_draw(seed, TARGET_COUNT),
                                   .outcome = (uint8_t)disk_draw(seed, 2)};
    return entry;
}

/* The entries that were saved at this moment are. */
static void note_saved(struct evening *evening, struct keeper *keeper, size_t first)
{
    struct saved_state state;
    keeper_state(keeper, &state);
    size_t now = disk_now();
    for (size_t i = 0; i < (size_t)state.saved; i++) {
        struct fact *fact = &evening->facts.list[first + i];
        fact->saved = fact->saved == NEVER ? now : fact->saved;
    }
}

/* A session as the console has it: a connection of its own beside the writer thread's. */
static void session(struct evening *evening, const char *ref, size_t count, uint64_t *seed)
{
    char path[512];
    struct log *log = NULL;
    struct bout bout;
    struct desk_row *desks = NULL;
    struct keeper *keeper = NULL;
    int64_t left = 0;
    size_t left_count = 0, first = evening->facts.count;
    int desk_count = 0, self = 0;
    bool rested = false;
    struct desk_open how = {"tagger", 3, false};
    struct log_news news = {0};
    path_in(path, evening, evening->db);
    must(log_open(&log, path, LOG_WRITE, NULL, &err));
    must(log_bout_find(log, ref, &bout, &err));
    must(data_desk_open(log, &bout, &how, &desks, &desk_count, &self, &err));
    must(log_news(log, bout.id, 0, &news, &err));
    must(keeper_open(&keeper, path, NULL, bout.id, desks, desk_count, news.arrival, -1, &err));
    keeper_sign(keeper, desks[self].id);
    for (size_t done = 0; done < count;) {
        size_t part = 1 + (size_t)disk_draw(seed, 4);
        part = part > count - done ? count - done : part;
        struct entry entries[4];
        for (size_t i = 0; i < part; i++) {
            entries[i] = strike_of(seed, self, (int64_t)(done + i + 1));
            facts_add(&evening->facts, ref, desks, &entries[i], disk_now(), NEVER, 0);
        }
        must(keeper_give(keeper, entries, part) ? error_memory(&err) : 0);
        done += part;
        if (disk_draw(seed, 3)) { /* else the next come before these are written */
            keeper_flush(keeper, 20000);
        }
        if (!rested && done > count * 2 / 3) { /* an idle moment, for a checkpoint */
            poll(NULL, 0, 600);
            rested = true;
        }
        note_saved(evening, keeper, first);
    }
    keeper_flush(keeper, 20000);
    note_saved(evening, keeper, first);
    if (!keeper_close(keeper, &left, &left_count) || left_count) {
        abort();
    }
    log_news_release(&news);
    free(desks);
    log_close(log);
}

/* Another evening's database, with bouts of the same card, whose desks are elsewhere. */
static void make_other(const struct evening *evening, const char *name, const char *ref,
                       uint64_t *seed)
{
    char path[512];
    struct log *log = NULL;
    struct bout bout;
    struct desk_row *desks = NULL;
    struct entry entries[OTHER];
    struct desk_open how = {"elsewhere", 3, false};
    int count = 0, self = 0;
    path_in(path, evening, name);
    must(log_open(&log, path, LOG_CREATE, NULL, &err));
    save_card(log, EVENING_TITLE);
    must(log_bout_find(log, ref, &bout, &err));
    must(data_desk_open(log, &bout, &how, &desks, &count, &self, &err));
    for (int i = 0; i < OTHER; i++) {
        entries[i] = strike_of(seed, self, i + 1);
    }
    must(log_append(log, desks, entries, OTHER, &err));
    free(desks);
    log_close(log);
}

/* What a database says, expected in the evening's from now on and called saved by `saved`. */
static void expect(struct evening *evening, const char *name, size_t given, int group)
{
    char path[512];
    struct log *log = NULL;
    path_in(path, evening, name);
    must(log_open(&log, path, LOG_READ, NULL, &err));
    must(facts_read(&evening->facts, log, given, NEVER, group, &err));
    log_close(log);
}

static void called_saved(struct evening *evening, int group)
{
    for (size_t i = 0; i < evening->facts.count; i++) {
        struct fact *fact = &evening->facts.list[i];
        fact->saved = fact->group == group ? disk_now() : fact->saved;
    }
}

static void import(struct evening *evening, const char *name)
{
    char path[512];
    struct log *log = NULL;
    struct card card = {0};
    struct bout bout;
    struct log_news news = {0};
    struct buf text = BUF_INIT;
    size_t added = 0;
    path_in(path, evening, name);
    must(log_open(&log, path, LOG_READ, NULL, &err));
    must(log_card_get(log, "", &card, &err));
    must(log_bout_find(log, "2", &bout, &err));
    must(log_news(log, bout.id, 0, &news, &err));
    struct portable portable = {.card = &card,
                                .bout = &bout,
                                .desks = news.desks,
                                .desk_count = news.desk_count,
                                .entries = news.entries,
                                .entry_count = news.entry_count};
    must(portable_write(&text, &portable, &err));
    log_close(log);
    expect(evening, name, disk_now(), 1);
    path_in(path, evening, evening->db);
    must(log_open(&log, path, LOG_WRITE, NULL, &err));
    must(portable_load(log, text.text, text.size, "import", &added, &err));
    called_saved(evening, 1);
    log_close(log);
    buf_release(&text);
    log_news_release(&news);
    card_release(&card);
}

static void merge(struct evening *evening, const char *name)
{
    char path[512];
    struct log *log = NULL, *other = NULL;
    struct log_merged merged;
    expect(evening, name, disk_now(), 2);
    path_in(path, evening, evening->db);
    must(log_open(&log, path, LOG_WRITE, NULL, &err));
    path_in(path, evening, name);
    must(log_open(&other, path, LOG_READ, NULL, &err));
    must(log_merge(log, other, &merged, &err));
    called_saved(evening, 2);
    log_close(other);
    log_close(log);
}

/* Entries that no database has leave as a file. */
static void rescue(struct evening *evening, uint64_t *seed)
{
    char path[512];
    char *name = NULL;
    struct card card = {0};
    struct desk_row desk = {
        .uid = "0123456789abcdef0123456789abcdef", .operator_ = "r", .name = "r"};
    struct entry entries[12];
    struct log *log = NULL;
    for (int i = 0; i < 12; i++) {
        entries[i] = strike_of(seed, 0, i + 1);
    }
    path_in(path, evening, evening->db);
    must(log_open(&log, path, LOG_READ, NULL, &err));
    must(log_card_get(log, "", &card, &err));
    log_close(log);
    struct rescue what = {.db = path,
                          .card = &card,
                          .bout = &card.bout[0],
                          .desks = &desk,
                          .desk_count = 1,
                          .uid = desk.uid};
    evening->rescue.begun = disk_now();
    must(rescue_write(&name, &what, entries, 12, &err));
    evening->rescue.done = disk_now();
    /* Beside the database: its name below the folder is the end of the path. */
    const char *slash = strrchr(evening->db, '/');
    snprintf(evening->rescue.name, sizeof evening->rescue.name, "%.*s%s",
             slash ? (int)(slash - evening->db + 1) : 0, evening->db, strrchr(name, '/') + 1);
    free(name);
    card_release(&card);
}

static void sign(struct evening *evening)
{
    char path[512];
    struct reading reading = {0};
    const struct entry *entries = NULL;
    struct entry entry = {.kind = ENTRY_SIGN, .code = CODE_SIGN, .text = "A. Supervisor"};
    size_t before = evening->facts.count, given = disk_now();
    path_in(path, evening, evening->db);
    must(reading_open(&reading, path, "1", 0, &err));
    entry.value = (int64_t)fold_entries(reading.fold, &entries);
    must(data_append(path, &reading, "A. Supervisor", &entry, 1, &err));
    size_t saved = disk_now();
    reading_release(&reading);
    must(reading_open(&reading, path, "1", 0, &err));
    const struct desk_row *desks = NULL;
    fold_desks(reading.fold, &desks);
    facts_add(&evening->facts, "night-1/1", desks, fold_signed(reading.fold), given, saved, 0);
    reading_release(&reading);
    if (evening->facts.count != before + 1) {
        abort();
    }
}

static void back_up(struct evening *evening)
{
    char path[512], copy[512];
    struct log *log = NULL;
    snprintf(evening->copy.name, sizeof evening->copy.name, "copy.db");
    path_in(path, evening, evening->db);
    path_in(copy, evening, evening->copy.name);
    must(log_open(&log, path, LOG_READ, NULL, &err));
    evening->copy.begun = disk_now();
    must(log_backup(log, copy, &err));
    evening->copy.done = disk_now();
    log_close(log);
}

void evening_play(struct evening *out, const char *base, uint64_t seed)
{
    char path[512];
    struct log *log = NULL;
    uint64_t draw = seed * 2 + 1;
    begin(out, base, "an evening", "season/t.db");
    make_other(out, "import.db", "2", &draw);
    make_other(out, "other.db", "3", &draw);
    path_in(path, out, out->db);
    disk_record(out->folder);
    must(log_open(&log, path, LOG_CREATE, NULL, &err));
    save_card(log, EVENING_TITLE);
    out->made = disk_now();
    log_close(log);
    session(out, "night-1/1", FIRST, &draw);
    must(log_open(&log, path, LOG_WRITE, NULL, &err));
    out->renamed[0] = disk_now();
    save_card(log, EVENING_SECOND);
    out->renamed[1] = disk_now();
    log_close(log);
    session(out, "night-1/1", SECOND, &draw);
    rescue(out, &draw);
    import(out, "import.db");
    merge(out, "other.db");
    sign(out);
    back_up(out);
    out->disk = disk_stop();
}

bool evening_migrate(struct evening *out, const char *base, int version)
{
    char path[512], sample[512], what[64];
    char *bytes = NULL;
    size_t size = 0;
    struct log *log = NULL;
    snprintf(sample, sizeof sample, SOURCE_DIR "/tests/unit/log/version-%d.db", version);
    if (access(sample, F_OK)) {
        return false;
    }
    snprintf(what, sizeof what, "migration from version %d", version);
    begin(out, base, what, "t.db");
    must(file_read(&bytes, &size, sample, &err));
    path_in(path, out, "copy-to-read.db");
    must(file_write(path, bytes, size, &err));
    must(log_open(&log, path, LOG_WRITE, NULL, &err));
    must(facts_read(&out->facts, log, 0, 0, 0, &err));
    log_close(log);
    unlink(path);
    path_in(path, out, out->db);
    must(file_write(path, bytes, size, &err));
    free(bytes);
    out->made = 0;
    disk_record(out->folder);
    must(log_open(&log, path, LOG_WRITE, NULL, &err));
    log_close(log);
    must(evening_resume(path, &out->facts, true, &err));
    out->disk = disk_stop();
    return true;
}

static const struct keymap *the_keymap(void)
{
    static struct keymap keymap;
    static bool ready;
    char file[4096];
    char *text = NULL;
    size_t size = 0;
    if (!ready) {
        must(data_file(&text, &size, file, "keymaps", "us-qwerty", &err));
        must(keymap_parse(&keymap, text, size, file, &err));
        free(text);
        ready = true;
    }
    return &keymap;
}

int evening_resume(const char *db, struct facts *facts, bool moments, struct error *err)
{
    struct log *log = NULL;
    struct card card = {0};
    struct rules rules;
    struct log_news news = {0};
    struct desk *desk = NULL;
    struct desk_row *desks = NULL;
    struct desk_open how = {"resumes", 3, false};
    int desk_count = 0, self = 0, code = 0;
    code = log_open(&log, db, LOG_WRITE, NULL, err);
    code = code ? code : log_card_get(log, "", &card, err);
    const struct bout *bout = card.bouts ? &card.bout[card.bouts - 1] : NULL;
    if (!code && !bout) {
        code = error_set(err, ERROR_FAILED, "the card has no bouts");
    }
    code = code ? code : data_bout_rules(&rules, bout, err);
    code = code ? code : data_desk_open(log, bout, &how, &desks, &desk_count, &self, err);
    code = code ? code : log_news(log, bout->id, 0, &news, err);
    if (!code) {
        struct desk_setup setup = {.bout = *bout,
                                   .rules = rules,
                                   .keymap = *the_keymap(),
                                   .desks = news.desks,
                                   .desk_count = news.desk_count,
                                   .self = self,
                                   .entries = news.entries,
                                   .entry_count = news.entry_count,
                                   .claim = 7};
        desk = desk_new(&setup, when_now());
        code = desk ? 0 : error_memory(err);
    }
    for (int i = 0; !code && i < 2; i++) { /* what it opens with, and a strike */
        const struct entry *entries = NULL;
        size_t given = moments ? disk_now() : 0;
        if (i) {
            desk_key(desk, 'w', when_now(), 0);
        }
        size_t count = desk_take(desk, &entries);
        code = log_append(log, news.desks, entries, count, err);
        char ref[64];
        snprintf(ref, sizeof ref, "%s/%d", bout->card, bout->number);
        for (size_t k = 0; facts && !code && k < count; k++) {
            facts_add(facts, ref, news.desks, &entries[k], given, moments ? disk_now() : 0, 0);
        }
        if (i && !code && count == 0) {
            code = error_set(err, ERROR_FAILED, "the desk logged no strike");
        }
    }
    desk_free(desk);
    free(desks);
    log_news_release(&news);
    card_release(&card);
    log_close(log);
    return code;
}
