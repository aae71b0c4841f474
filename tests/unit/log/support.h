/* support.h: databases in a folder of their own, and random logs of a bout. */
#ifndef LOG_SUPPORT_H
#define LOG_SUPPORT_H

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include <fcntl.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include <sqlite3.h>

#include "ringtally/base/file.h"
#include "ringtally/log/log_watch.h"

/* A code of 0, or the message. */
#define assert_ok(call, err)                                                                       \
    do {                                                                                           \
        if ((call) != 0) {                                                                         \
            fail_msg("%s: %s", #call, (err).text);                                                 \
        }                                                                                          \
    } while (0)

struct place {
    char folder[64];
    char db[96];
};

static inline int place_set_up(void **state)
{
    struct place *place = calloc(1, sizeof *place);
    if (!place) {
        return -1;
    }
    strcpy(place->folder, "log-test.XXXXXX");
    if (!mkdtemp(place->folder)) {
        free(place);
        return -1;
    }
    snprintf(place->db, sizeof place->db, "%s/t.db", place->folder);
    *state = place;
    return 0;
}

static inline int place_tear_down(void **state)
{
    static const char *const ends[] = {"", "-wal", "-shm", "-journal", ".desks", ".signs", ".feed"};
    struct place *place = *state;
    for (size_t i = 0; i < sizeof ends / sizeof ends[0]; i++) {
        char path[112] = "";
        snprintf(path, sizeof path, "%s%s", place->db, ends[i]);
        unlink(path);
    }
    int code = rmdir(place->folder);
    free(place);
    return code;
}

static inline struct card card_of(const char *text)
{
    struct card card = {0};
    struct error err = {0};
    assert_ok(card_parse(&card, text, strlen(text), "card", &err), err);
    return card;
}

#define TEST_CARD                                                                                  \
    "[card]\nid = night-1\ntitle = Night of the Lamps\ndate = 2026-02-28\nvenue = Old Rope Hall\n" \
    "[bout 1]\nrules = kickboxing\nred.name = Ana Lume\nblue.name = Bo Reef\n"                     \
    "blue.stance = southpaw\nreferee = Ref Eree\njudges = Ju Dge, Ar Biter, Um Pire\n"             \
    "red.record = 1-2-3\nred.from = Quay\nweight = women -65 kg\n"                                 \
    "[bout 2]\nrules = boxing\nrounds = 6\nred.name = Cy Mast\nblue.name = Dee Keel\n"

static inline struct log *open_log(const struct place *place, enum log_mode mode)
{
    struct log *log = NULL;
    struct error err = {0};
    assert_ok(log_open(&log, place->db, mode, NULL, &err), err);
    return log;
}

/* A new database with that card. It is made once a process, and its bytes are written again for the
 * others; a database that is there gets the card saved. */
static inline struct log *log_with_card(const struct place *place)
{
    static char *made;
    static size_t size;
    struct error err = {0};
    bool fresh = access(place->db, F_OK) != 0;
    if (made && fresh) {
        int fd = open(place->db, O_CREAT | O_WRONLY | O_EXCL, 0600);
        assert_true(fd >= 0 && write(fd, made, size) == (ssize_t)size && close(fd) == 0);
        return open_log(place, LOG_WRITE);
    }
    struct log *log = open_log(place, LOG_CREATE);
    struct card card = card_of(TEST_CARD);
    assert_ok(log_card_save(log, &card, &err), err);
    card_release(&card);
    if (fresh) {
        log_close(log); /* its journal goes into it */
        assert_ok(file_read(&made, &size, place->db, &err), err);
        log = open_log(place, LOG_WRITE);
    }
    return log;
}

static inline struct bout find_bout(struct log *log, const char *ref)
{
    struct bout bout;
    struct error err = {0};
    assert_ok(log_bout_find(log, ref, &bout, &err), err);
    return bout;
}

static inline struct desk_row new_desk(struct log *log, int64_t bout, int64_t continues)
{
    struct desk_row desk = {.operator_ = "tagger", .corners = 3, .opened_ms = 1000};
    struct error err = {0};
    assert_ok(log_desk_new(log, bout, &desk, continues, &err), err);
    return desk;
}

static inline struct entry entry_of(int desk, int64_t seq, int64_t utc_ms, enum entry_kind kind)
{
    return (struct entry){.name = {desk, seq},
                          .subject = {desk, seq},
                          .undoes = ENTRY_NONE,
                          .utc_ms = utc_ms,
                          .at_ms = utc_ms,
                          .kind = (uint8_t)kind,
                          .round = 1};
}

static inline bool same_entry(const struct entry *a, const struct entry *b)
{
    return entry_same(a->name, b->name) && entry_same(a->subject, b->subject) &&
           entry_same(a->undoes, b->undoes) && a->utc_ms == b->utc_ms && a->at_ms == b->at_ms &&
           a->kind == b->kind && a->act == b->act && a->code == b->code &&
           a->off_clock == b->off_clock && a->review == b->review && a->accepted == b->accepted &&
           a->unsure == b->unsure && a->round == b->round && a->elapsed_ms == b->elapsed_ms &&
           memcmp(&a->strike, &b->strike, sizeof a->strike) == 0 && a->value == b->value &&
           strcmp(a->text, b->text) == 0;
}

/* All that a connection of its own finds: the first column of the only row. */
static inline int64_t sql_number(const char *path, const char *text)
{
    sqlite3 *db = NULL;
    sqlite3_stmt *row = NULL;
    assert_int_equal(sqlite3_open_v2(path, &db, SQLITE_OPEN_READONLY, NULL), SQLITE_OK);
    assert_int_equal(sqlite3_prepare_v2(db, text, -1, &row, NULL), SQLITE_OK);
    assert_int_equal(sqlite3_step(row), SQLITE_ROW);
    int64_t number = sqlite3_column_int64(row, 0);
    sqlite3_finalize(row);
    sqlite3_close(db);
    return number;
}

/* What SQLite answers to a text: SQLITE_OK or why not. */
static inline int sql_try(const char *path, const char *text)
{
    sqlite3 *db = NULL;
    assert_int_equal(sqlite3_open(path, &db), SQLITE_OK);
    int result = sqlite3_exec(db, text, NULL, NULL, NULL);
    sqlite3_close(db);
    return result;
}

/* A small generator of its own, so that a failure is the same everywhere. */
static inline uint32_t roll(uint64_t *seed, uint32_t sides)
{
    *seed = *seed * 6364136223846793005u + 1442695040888963407u;
    return (uint32_t)(*seed >> 33) % sides;
}

#define RANDOM_DESKS 5 /* 0 1 2 on their own; 3 goes on from 1, 4 from 3 */

/* A strike, kept sound. */
static inline struct strike random_strike(uint64_t *seed)
{
    struct strike strike = {.corner = (uint8_t)roll(seed, CORNER_COUNT),
                            .limb = (uint8_t)roll(seed, LIMB_COUNT),
                            .target = (uint8_t)roll(seed, TARGET_COUNT),
                            .stance = (uint8_t)roll(seed, STANCE_COUNT),
                            .position = (uint8_t)roll(seed, POSITION_COUNT),
                            .outcome = (uint8_t)roll(seed, OUTCOME_COUNT),
                            .technique = (uint8_t)roll(seed, 8)};
    if (strike.outcome != OUTCOME_LANDED) {
        strike.technique &= (uint8_t)~TECHNIQUE_KNOCKDOWN;
    }
    return strike;
}

/* Fills entries[count] with a log that has everything: handovers, corrections by own and foreign
 * desks, voids, restores, equal moments, and a few corrections that come before their subject. */
static inline void random_log(struct entry *entries, size_t count, uint64_t *seed)
{
    int64_t next[RANDOM_DESKS] = {1, 1, 1, 1, 1};
    int64_t utc[RANDOM_DESKS] = {0};
    int64_t now = 1700000000000;
    for (size_t i = 0; i < count; i++) {
        int desk = (int)roll(seed, RANDOM_DESKS);
        now += roll(seed, 4) * 40;
        int64_t moment = now + roll(seed, 3) * 60; /* desks' clocks differ a little */
        utc[desk] = moment > utc[desk] ? moment : utc[desk];
        struct entry entry = entry_of(desk, next[desk]++, utc[desk], ENTRY_STRIKE);
        entry.round = (uint8_t)(1 + i * 3 / count);
        entry.elapsed_ms = (int32_t)roll(seed, 180000);
        entry.strike = random_strike(seed);
        entry.off_clock = roll(seed, 10) == 0;
        entry.review = roll(seed, 10) == 0;
        entry.unsure = i % 7 == 3;
        uint32_t what = roll(seed, 20);
        if (what == 0 || i < 2) {
            entry.kind = ENTRY_OFFICIAL;
            entry.code = (uint8_t)(CODE_RED + (i < 2 ? i : roll(seed, 3)));
            entry.strike = (struct strike){0};
        } else if (what <= 2) {
            entry.kind = ENTRY_INCIDENT;
            entry.code = (uint8_t)(CODE_WARNING + roll(seed, 7));
            entry.strike = (struct strike){.corner = entry.strike.corner};
        } else if (what < 10 && i > 4) {
            uint32_t back = roll(seed, 2) ? (uint32_t)i : (uint32_t)(i < 4 ? i : 4);
            const struct entry *about = &entries[i - 1 - roll(seed, back)];
            entry.subject = about->subject;
            entry.kind = about->kind;
            entry.code = about->code;
            entry.act = (uint8_t)(ACT_REFINE + roll(seed, 4));
            if (entry.kind != ENTRY_STRIKE) {
                entry.strike = about->strike;
            } else if (roll(seed, 2)) {
                entry.strike.corner = about->strike.corner;
            }
            entry.undoes = roll(seed, 4) == 0 ? about->name : ENTRY_NONE;
            if (entry.kind == ENTRY_STRIKE && roll(seed, 8) == 0) { /* says nothing of a strike */
                entry.kind = ENTRY_INCIDENT;
                entry.code = CODE_WARNING;
                entry.strike = (struct strike){.corner = entry.strike.corner};
            }
            if (entry.kind == ENTRY_OFFICIAL) { /* no subject of a correction */
                entry.subject = entry.name;
                entry.act = ACT_ADD;
                entry.undoes = ENTRY_NONE;
            }
        }
        entries[i] = entry;
    }
}

#endif
