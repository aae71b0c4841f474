/* seat.c: a session: opened, run, and left with nothing unsaved. */
#include "ringtally/console/seat.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "ringtally/base/mono.h"
#include "ringtally/base/when.h"
#include "console/beside.h"
#include "ringtally/console/console.h"
#include "ringtally/console/rescue.h"
#include "ringtally/log/chain.h"
#include "ringtally/data/data.h"
#include "ringtally/log/log_watch.h"
#include "ringtally/log/signs.h"
#include "ringtally/screen/screen.h"
#include "console/mover.h"
#include "console/spare.h"

#define FLUSH_MS 5000

/* All that a running session holds. */
struct seat {
    const struct seat_setup *setup;
    struct log *log;
    struct card card; /* the head alone */
    struct bout bout;
    struct rules rules;
    struct desk_row *desks;
    int desk_count;
    int self;
    struct desk *desk;
    struct keeper *keeper;
    struct recorder *recorder;
    struct beside *beside; /* or NULL */
    struct spare *spare;   /* or NULL: `log` is the database itself */
    struct desk_settings settings;
    int64_t start_ms; /* the desk's time */
    bool moves;       /* once it is left */
};

/* The roles that the new session takes: its corners and the clock, but for what another live desk
 * holds. */
static uint8_t roles_to_claim(const struct seat *seat, const struct fold *fold)
{
    static const enum entry_code codes[] = {CODE_RED, CODE_BLUE, CODE_CLOCK};
    if (seat->self < 0) {
        return 0;
    }
    const struct desk_row *self = &seat->desks[seat->self];
    uint8_t wanted = self->shadow ? 0 : (uint8_t)(self->corners | 4);
    for (int i = 0; i < 3; i++) {
        int holder = fold_official(fold, codes[i]);
        if (holder >= 0 && holder != self->root &&
            log_desk_is_live(seat->log, seat->desks[holder].id)) {
            wanted &= (uint8_t) ~(1u << i);
        }
    }
    return wanted;
}

static int fold_news(struct fold **out, const struct seat *seat, const struct log_news *news,
                     struct error *err)
{
    struct clock_plan plan = clock_plan(&seat->rules, seat->bout.rounds);
    struct fold *fold = fold_new(&plan, &seat->bout, FOLD_OFFICIAL);
    bool done = fold != NULL;
    for (int i = 0; i < news->desk_count && done; i++) {
        done = fold_desk(fold, &news->desks[i]) == 0;
    }
    if (!done || fold_add_all(fold, news->entries, news->entry_count)) {
        fold_free(fold);
        return error_memory(err);
    }
    *out = fold;
    return 0;
}

/* Whether that chain is the operator's own count from a recording. */
static bool is_own_count(const struct seat *seat, const struct fold *fold,
                         const struct desk_row *root)
{
    const struct desk_row *desks = NULL;
    fold_desks(fold, &desks);
    return fold_on_recording(fold) && fold_official(fold, CODE_CLOCK) == (int)(root - desks) &&
           !root->shadow && strcmp(root->operator_, seat->setup->operator_) == 0;
}

/* A desk on a recording is the count itself where there is no other: nobody else tagged a strike
 * here, nor is at a desk that counts. Else it is one beside the count. */
static int recording_counts(bool *out, struct seat *seat, struct error *err)
{
    struct log_news news = {0};
    struct fold *fold = NULL;
    const struct desk_row *desks = NULL;
    const struct subject *subjects = NULL;
    int code = log_news(seat->log, seat->bout.id, 0, &news, err);
    code = code ? code : fold_news(&fold, seat, &news, err);
    *out = !code;
    if (!code) {
        int count = fold_desks(fold, &desks);
        size_t known = fold_subjects(fold, &subjects);
        for (int i = 0; i < count && *out; i++) {
            bool other = desks[i].root == i && !desks[i].shadow && desks[i].corners != 0 &&
                         !is_own_count(seat, fold, &desks[i]);
            *out = !other || !log_desk_is_live(seat->log, desks[i].id);
        }
        for (size_t i = 0; i < known && *out; i++) {
            const struct desk_row *root = &desks[desks[subjects[i].now.name.desk].root];
            *out = subjects[i].now.kind != ENTRY_STRIKE || !subjects[i].live ||
                   is_own_count(seat, fold, root);
        }
    }
    fold_free(fold);
    log_news_release(&news);
    return code;
}

/* Makes the desk of what the log holds; *news = what it was made of. */
static int open_desk(struct seat *seat, struct log_news *news, struct error *err)
{
    struct fold *fold = NULL;
    const struct seat_setup *setup = seat->setup;
    struct desk_open how = {setup->operator_, setup->corners, setup->shadow, setup->player.tags};
    int code = 0;
    seat->self = -1;
    if (setup->player.tags && !setup->shadow) {
        bool counts = false;
        code = recording_counts(&counts, seat, err);
        how.shadow = !counts;
    }
    if (!code && !setup->watch) {
        code = data_desk_open(seat->log, &seat->bout, &how, &seat->desks, &seat->desk_count,
                              &seat->self, err);
    }
    /* Desks and entries of one moment, this session's row among them. */
    code = code ? code : log_news(seat->log, seat->bout.id, 0, news, err);
    code = code ? code : fold_news(&fold, seat, news, err);
    if (code) {
        return code;
    }
    free(seat->desks);
    seat->desks = news->desks;
    seat->desk_count = news->desk_count;
    news->desks = NULL;
    struct desk_setup desk = {
        .bout = seat->bout,
        .rules = seat->rules,
        .keymap = *setup->keymap,
        .desks = seat->desks,
        .desk_count = seat->desk_count,
        .self = seat->self,
        .entries = news->entries,
        .entry_count = news->entry_count,
        .claim = roles_to_claim(seat, fold),
        .own_clock = setup->own_clock || setup->keys, /* a script brings its Enter along */
        .recording = setup->player.tags,
    };
    /* A script's time may have run ahead of the wall, and the next one's is behind it. */
    int64_t now = when_now(), newest = fold_newest_ms(fold);
    seat->start_ms = setup->keys && newest >= now ? newest + 1 : now;
    fold_free(fold);
    seat->desk = desk_new(&desk, seat->start_ms);
    return seat->desk ? 0 : error_memory(err);
}

/* Reads all that this session wrote back from where the database stands, over a connection that
 * knows nothing of the former ones. *lacking = entries that are not there. */
static int read_back(const struct seat *seat, const char *path, size_t *lacking, struct error *err)
{
    struct log *log = NULL;
    const struct desk_row *desks = NULL;
    const struct entry *entries = NULL;
    const struct fold *fold = desk_fold(seat->desk);
    int desk_count = fold_desks(fold, &desks);
    size_t count = fold_entries(fold, &entries);
    size_t own_count = 0;
    struct entry *own = malloc((count + 1) * sizeof *own);
    if (!own) {
        return error_memory(err);
    }
    for (size_t i = 0; i < count; i++) {
        if (entries[i].name.desk == seat->self) {
            own[own_count++] = entries[i];
        }
    }
    int code = own_count ? log_open(&log, path, LOG_READ, NULL, err) : 0;
    if (own_count && !code) {
        code = log_lacks(log, desks, desk_count, own, own_count, lacking, err);
    }
    log_close(log);
    free(own);
    return code;
}

/* All that this desk knows, or its own entries from number `seq` on, with their digests: what the
 * writer was given has none yet. */
static int known_entries(struct entry **out, size_t *count, const struct seat *seat, int64_t seq,
                         struct error *err)
{
    const struct fold *fold = desk_fold(seat->desk);
    const struct desk_row *desks = NULL;
    const struct entry *all = NULL;
    size_t used = 0;
    int desk_count = fold_desks(fold, &desks);
    *count = fold_entries(fold, &all);
    struct entry *known = malloc((*count + 1) * sizeof *known);
    if (!known) {
        return error_memory(err);
    }
    *out = known;
    memcpy(known, all, *count * sizeof *known);
    int code = chain_fill(&seat->bout, desks, desk_count, known, *count, err);
    for (size_t i = 0; i < *count; i++) {
        if (!seq || (known[i].name.desk == seat->self && known[i].name.seq >= seq)) {
            known[used++] = known[i];
        }
    }
    *count = used;
    return code;
}

/* Writes what the database does not hold, and tells where it is. `left_from`: the number of the
 * first entry that was not written; 0: all that this desk knows. */
static int rescue(const struct seat *seat, const char *db, bool stalled, int64_t left_from,
                  struct error *err)
{
    const struct desk_row *desks = NULL;
    struct entry *entries = NULL;
    size_t count = 0;
    struct error why = {0};
    char *path = NULL;
    struct rescue what = {
        .db = db,
        .stalled = stalled,
        .card = &seat->card,
        .bout = &seat->bout,
        /* A correction may name a desk that came after this one. */
        .desk_count = fold_desks(desk_fold(seat->desk), &desks),
        .uid = seat->desks[seat->self].uid,
    };
    what.desks = desks;
    int code = known_entries(&entries, &count, seat, left_from, &why);
    code = code ? code : rescue_write(&path, &what, entries, count, &why);
    free(entries);
    if (code) {
        return error_set(err, ERROR_FAILED,
                         "%zu entries are lost: no rescue file could be written: %s", count,
                         why.text);
    }
    fprintf(stderr,
            "ringtally: %zu entries are not in the database; they are in %s\n"
            "ringtally: load them with: ringtally import-log %s\n",
            count, path, path);
    free(path);
    return error_set(err, ERROR_FAILED, "left with entries outside the database");
}

/* What was written aside goes into the database, which may take it by now. */
static int bring_home(struct seat *seat, struct error *err)
{
    struct error why = {0};
    size_t added = 0;
    if (spare_merge(seat->spare, &added, &why) == 0) {
        fprintf(stderr, "ringtally: %zu entries that were kept in memory are in %s\n", added,
                spare_home(seat->spare));
        return 0;
    }
    fprintf(stderr, "ringtally: %s\n", why.text);
    return rescue(seat, spare_home(seat->spare), false, 0, err);
}

/* Ends the writing. What was not written, or was and is not found where the database stands, goes
 * into a file; where more than the unwritten is missing, all that this desk knows does. */
static int leave(struct seat *seat, struct error *err)
{
    int64_t left_from = 0;
    size_t left_count = 0, lacking = 0;
    struct error why = {0};
    char *db = strdup(log_path(seat->log));
    if (!db) {
        return error_memory(err);
    }
    bool ended = keeper_close(seat->keeper, &left_from, &left_count);
    bool whole = false;
    int code = 0;
    if (ended) { /* a disk that does not answer would hold up this as well */
        log_leave(seat->log);
        seat->log = NULL;
        whole = read_back(seat, db, &lacking, &why) != 0 || lacking > left_count;
    }
    if (whole && why.text[0]) {
        fprintf(stderr, "ringtally: what was logged cannot be read back: %s\n", why.text);
    }
    if (whole) {
        code = rescue(seat, db, false, 0, err);
    } else if (left_count > 0) {
        code = rescue(seat, db, !ended, left_from, err);
    } else if (seat->spare) {
        code = bring_home(seat, err);
    }
    free(db);
    return code;
}

static int open_keeper(struct seat *seat, int64_t arrival, struct error *err)
{
    const char *path = log_path(seat->log);
    int wake = seat->setup->headless ? -1 : screen_wake_fd();
    if (seat->setup->watch) {
        return keeper_follow(&seat->keeper, path, seat->bout.id, seat->desks, seat->desk_count,
                             arrival, wake, err);
    }
    int64_t row = seat->desks[seat->self].id;
    int code = keeper_open(&seat->keeper, path, NULL, seat->bout.id, seat->desks, seat->desk_count,
                           arrival, wake, err);
    if (!code) {
        /* The keeper's first comes a moment later, and who died before it would have left none. */
        signs_leave(seat->log, row, when_now(), false, NULL);
        keeper_sign(seat->keeper, row);
    }
    return code;
}

static int run(struct seat *seat, int64_t arrival, struct error *err)
{
    const struct entry *entries = NULL;
    const struct seat_setup *setup = seat->setup;
    int code = open_keeper(seat, arrival, err);
    if (code) {
        return code;
    }
    size_t count = desk_take(seat->desk, &entries);
    if (count && keeper_give(seat->keeper, entries, count)) {
        code = error_memory(err);
    }
    struct console console = {
        .desk = seat->desk,
        .keeper = seat->keeper,
        .recorder = seat->recorder,
        .beside = seat->beside,
        .on_recording = setup->player.tags,
        .keys = setup->keys,
        .key_count = setup->key_count,
        .speed = setup->speed,
        .headless = setup->headless,
        .bell = seat->settings.bell && !setup->no_bell,
        .flash = seat->settings.flash && !setup->no_flash,
        .log = seat->log,
        .aside = seat->spare ? spare_reason(seat->spare) : NULL,
        .start_ms = seat->start_ms,
        .wall_ms = mono_ms(),
    };
    code = code ? code : console_run(&console, err);
    seat->moves = console.moves;
    if (!screen_hangup()) { /* who is told to end has no time: closing writes what it can */
        keeper_flush(seat->keeper, FLUSH_MS);
    }
    screen_close();
    int left = leave(seat, err);
    return code ? code : left;
}

/* Whether the desk goes on beside its database, which takes nothing; *why is then over. Not for a
 * script, which nobody waits for, and not for who only watches. */
static bool goes_aside(struct seat *seat, struct error *why)
{
    const struct seat_setup *setup = seat->setup;
    if (setup->watch || setup->headless || seat->spare) {
        return false;
    }
    log_close(seat->log);
    seat->log = NULL;
    free(seat->desks);
    seat->desks = NULL;
    if (spare_open(&seat->spare, &seat->log, setup->db, why)) {
        return false;
    }
    *why = (struct error){0};
    return true;
}

/* A key that never arrives must be known before the bell, not in the round. */
static int check_keys(const struct keymap *keymap, struct error *err)
{
    char word[16];
    int32_t beyond = keymap_beyond_ascii(keymap);
    if (!screen_is_ascii() || beyond == KEY_OF_NONE) {
        return 0;
    }
    key_word(word, beyond);
    screen_close();
    return error_set(err, ERROR_FAILED,
                     "the key map %s has %s, which this locale cannot receive: set a UTF-8 locale, "
                     "LC_ALL=C.UTF-8 for one",
                     keymap->id, word);
}

int seat_run(const struct seat_setup *setup, struct error *err)
{
    struct seat seat = {.setup = setup};
    struct log_news news = {0};
    int code = data_settings(&seat.settings, err);
    if (!code) {
        code = data_log_open(&seat.log, setup->db, setup->watch ? LOG_READ : LOG_WRITE, err);
        code = code && goes_aside(&seat, err) ? 0 : code;
    }
    code = code ? code : log_bout_find(seat.log, setup->bout, &seat.bout, err);
    code = code ? code : log_card_get(seat.log, seat.bout.card, &seat.card, err);
    code = code ? code : data_bout_rules(&seat.rules, &seat.bout, err);
    if (!code && setup->record && log_owns(seat.log, setup->record)) {
        code = error_set(err, ERROR_USAGE, "--record %s: this is a database, which would be lost",
                         setup->record);
    }
    if (!code && (setup->player.recording || setup->player.socket)) {
        code = beside_open(&seat.beside, &setup->player, err);
    }
    if (!code && setup->headless) {
        code = screen_catch_signals(err);
    } else if (!code) {
        code = screen_open(err);
        code = code ? code : check_keys(setup->keymap, err);
    }
    if (!code) {
        code = open_desk(&seat, &news, err);
        if (code && goes_aside(&seat, err)) {
            log_news_release(&news);
            news = (struct log_news){0};
            code = open_desk(&seat, &news, err);
        }
    }
    if (!code && setup->keys && desk_is_read_only(seat.desk)) {
        code = error_set(err, ERROR_FAILED, "%s/%d: the record is signed: no key would be logged",
                         seat.bout.card, seat.bout.number);
    }
    if (!code && setup->record) {
        code = recorder_open(&seat.recorder, setup->record, err);
    }
    code = code ? code : run(&seat, news.arrival, err);
    screen_close();
    beside_close(seat.beside);
    int closed = recorder_close(seat.recorder, err);
    if (!code && seat.moves) { /* what is not in the database cannot go anywhere */
        code = mover_move(seat.desk, setup, err);
    }
    log_news_release(&news);
    desk_free(seat.desk);
    free(seat.desks);
    card_release(&seat.card);
    log_close(seat.log);
    spare_close(seat.spare);
    return code ? code : closed;
}
