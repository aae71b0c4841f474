/* support.h: what every fault test checks about a database afterwards. */
#ifndef FAULT_SUPPORT_H
#define FAULT_SUPPORT_H

#include "../unit/log/support.h"

#include <time.h>

#include "shim_vfs.h"

/* A text, one column, one row. */
static inline void sql_word(char *out, size_t size, const char *path, const char *text)
{
    sqlite3 *db = NULL;
    sqlite3_stmt *row = NULL;
    assert_int_equal(sqlite3_open(path, &db), SQLITE_OK);
    assert_int_equal(sqlite3_prepare_v2(db, text, -1, &row, NULL), SQLITE_OK);
    assert_int_equal(sqlite3_step(row), SQLITE_ROW);
    snprintf(out, size, "%s", (const char *)sqlite3_column_text(row, 0));
    sqlite3_finalize(row);
    sqlite3_close(db);
}

static inline void assert_sound(const char *path)
{
    char word[64] = "";
    sql_word(word, sizeof word, path,
             "SELECT (SELECT group_concat(integrity_check) FROM pragma_integrity_check) || ' ' || "
             "(SELECT count(*) FROM pragma_foreign_key_check)");
    assert_string_equal(word, "ok 0");
}

/* The database is sound, and holds the first entries of `given`, at least `acknowledged` of them,
 * and no others. Returns how many. */
static inline size_t assert_kept(const char *path, const struct desk_row *desk,
                                 const struct entry *given, size_t given_count, size_t acknowledged)
{
    struct log *log = NULL;
    struct error err = {0};
    struct log_news news = {0};
    struct bout bout;
    assert_sound(path);
    assert_ok(log_open(&log, path, LOG_WRITE, NULL, &err), err);
    assert_ok(log_bout_find(log, "1", &bout, &err), err);
    assert_ok(log_news(log, bout.id, 0, &news, &err), err);
    size_t count = news.entry_count;
    assert_int_equal(news.desk_count, 1);
    assert_string_equal(news.desks[0].uid, desk->uid);
    assert_true(count >= acknowledged);
    assert_true(count <= given_count);
    for (size_t i = 0; i < count; i++) {
        assert_true(same_entry(&news.entries[i], &given[i]));
    }
    log_news_release(&news);
    log_close(log);
    return count;
}

/* A little of everything, as a desk writes it. */
static inline void write_entries(struct entry *out, size_t count)
{
    uint64_t seed = 3;
    for (size_t i = 0; i < count; i++) {
        out[i] = entry_of(0, (int64_t)i + 1, 1700000000000 + (int64_t)i * 250, ENTRY_STRIKE);
        out[i].strike = random_strike(&seed);
    }
}

static inline int64_t monotonic_ms(void)
{
    struct timespec now = {0};
    assert_int_equal(clock_gettime(CLOCK_MONOTONIC, &now), 0);
    return (int64_t)now.tv_sec * 1000 + now.tv_nsec / 1000000;
}

#endif
