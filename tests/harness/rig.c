/* rig.c: a desk under test. */
#include "rig.h"

#include <ctype.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <sqlite3.h>

#include "base.h"
#include "run.h"

#define LEAVE_TRIES 10

#define LINE_BYTES 4096

void rig_load(const struct rig *rig, const char *card)
{
    struct run *result = malloc(sizeof *result);
    const char *argv[] = {rig->program, "--db", rig->db, "card", "load", card, NULL};
    if (result == NULL) {
        harness_die("rig_load");
    }
    run(result, rig->folder, argv);
    if (result->status != 0) {
        fputs(result->out, stderr);
        harness_die("card load");
    }
    free(result);
}

void rig_init(struct rig *rig, const char *program, const char *card)
{
    const char *other = getenv("RINGTALLY_PROGRAM");
    *rig = (struct rig){.program = other ? other : program};
    scratch_new(rig->folder, sizeof rig->folder);
    snprintf(rig->db, sizeof rig->db, "%s/test.db", rig->folder);
    rig_load(rig, card);
}

void rig_release(struct rig *rig)
{
    scratch_remove(rig->folder);
}

static sqlite3_stmt *query(const struct rig *rig, sqlite3 **db, const char *sql)
{
    sqlite3_stmt *statement = NULL;
    if (sqlite3_open(rig->db, db) != SQLITE_OK || sqlite3_busy_timeout(*db, 10000) != SQLITE_OK ||
        sqlite3_prepare_v2(*db, sql, -1, &statement, NULL) != SQLITE_OK) {
        fprintf(stderr, "%s: %s\n", sql, sqlite3_errmsg(*db));
        harness_die("query");
    }
    return statement;
}

long rig_number(const struct rig *rig, const char *sql)
{
    sqlite3 *db = NULL;
    sqlite3_stmt *statement = query(rig, &db, sql);
    long out = 0;
    int code = sqlite3_step(statement);
    if (code == SQLITE_ROW) {
        out = (long)sqlite3_column_int64(statement, 0);
    } else if (code != SQLITE_DONE) {
        harness_die(sqlite3_errmsg(db));
    }
    sqlite3_finalize(statement);
    sqlite3_close(db);
    return out;
}

/* What a key of the pad means: the default key map as the design writes it down. */
static bool key_words(char *out, size_t size, char key)
{
    static const char *const red[] = {"qwert", "asdfg", "z  vb"};
    static const char *const blue[] = {"yuiop", "hjkl;", "nm  /"};
    static const char *const red_limbs[] = {"left_leg", "left_hand", "right_hand", "right_leg",
                                            "knee"};
    static const char *const blue_limbs[] = {"knee", "left_leg", "left_hand", "right_hand",
                                             "right_leg"};
    static const char *const targets[] = {"head", "body", "leg"};
    char plain = (char)(key == ':' ? ';' : key == '?' ? '/' : tolower((unsigned char)key));
    const char *outcome = plain == key ? "attempted" : "landed";
    for (int row = 0; row < 3; row++) {
        const char *at = strchr(red[row], plain);
        if (at != NULL) {
            snprintf(out, size, "red %s %s %s", red_limbs[at - red[row]], targets[row], outcome);
            return true;
        }
        at = strchr(blue[row], plain);
        if (at != NULL) {
            snprintf(out, size, "blue %s %s %s", blue_limbs[at - blue[row]], targets[row], outcome);
            return true;
        }
    }
    return false;
}

bool rig_logged(const struct rig *rig, const char *bout, const char *keys, size_t count)
{
    sqlite3 *db = NULL;
    sqlite3_stmt *statement =
        query(rig, &db,
              "SELECT corner || ' ' || limb || ' ' || target || ' ' || outcome "
              "FROM entry JOIN desk ON desk.id = entry.desk JOIN bout ON bout.id = desk.bout "
              "WHERE bout.name = ?1 AND kind = 'strike' AND act = 'add' ORDER BY desk.id, seq");
    size_t row = 0, typed = strlen(keys);
    bool same = sqlite3_bind_text(statement, 1, bout, -1, SQLITE_STATIC) == SQLITE_OK;
    for (; sqlite3_step(statement) == SQLITE_ROW; row++) {
        char words[64] = "";
        const char *logged = (const char *)sqlite3_column_text(statement, 0);
        if (row < typed && (!key_words(words, sizeof words, keys[row]) || logged == NULL ||
                            strcmp(words, logged) != 0)) {
            fprintf(stderr, "strike %zu of %s: typed %c (%s), logged %s\n", row + 1, bout,
                    keys[row], words, logged != NULL ? logged : "nothing");
            same = false;
            break;
        }
    }
    if (same && row != count) {
        fprintf(stderr, "%s: %zu strikes typed, %zu logged\n", bout, count, row);
    }
    sqlite3_finalize(statement);
    sqlite3_close(db);
    return same && row == count;
}

struct vt *rig_desk(const struct rig *rig, const char *bout, const char *const *more,
                    const struct vt_setup *setup, const char *ready)
{
    const char *argv[16] = {rig->program, "--db", rig->db, "desk", bout};
    struct vt_setup full = setup != NULL ? *setup : (struct vt_setup){0};
    for (int i = 0; more != NULL && more[i] != NULL && i < 10; i++) {
        argv[5 + i] = more[i];
    }
    full.argv = argv;
    full.home = rig->folder;
    struct vt *vt = vt_open(&full);
    if (!vt_wait_text(vt, ready, RIG_WAIT_MS)) {
        vt_close(vt);
        return NULL;
    }
    return vt;
}

void rig_finger(struct vt *vt, const char *key)
{
    vt_watch(vt, RIG_FINGER_MS);
    vt_press(vt, key);
}

int rig_leave(struct vt *vt)
{
    long saved = 0, waiting = 0;
    /* With entries unsaved the key is asked for once more. */
    if (rig_saved(vt, &saved, &waiting) && !rig_wait_saved(vt, 0)) {
        vt_close(vt);
        return -1;
    }
    vt_press(vt, "F10");
    if (!vt_wait_text(vt, "leave", RIG_WAIT_MS)) {
        vt_close(vt);
        return -1;
    }
    /* A slow program may read two presses as one held down: then again, as people do. */
    vt_watch(vt, RIG_FINGER_MS);
    for (int i = 0; i < LEAVE_TRIES && vt_pump(vt, 0); i++) {
        vt_press(vt, "F10");
        vt_watch(vt, RIG_WAIT_MS / LEAVE_TRIES);
    }
    int code = vt_wait_exit(vt, RIG_WAIT_MS);
    vt_close(vt);
    return code;
}

/* "12/31", or a dot for nothing, at *text. */
static bool read_count(const char *text, long *landed, long *attempted)
{
    int used = 0;
    *landed = *attempted = 0;
    if (sscanf(text, "%ld/%ld%n", landed, attempted, &used) == 2 && used > 0) {
        return true;
    }
    *landed = *attempted = 0;
    return strncmp(text, "\u00b7", strlen("\u00b7")) == 0 || text[0] == '.';
}

bool rig_pad_place(struct vt *vt, char key, int *row, int *column)
{
    static const char *const rows[] = {"qwertyuiop", "asdfghjkl;", "zxcvbnm,./"};
    static const char *const labels[] = {"HEAD", "BODY", "LEG"};
    for (int i = 0; i < 3; i++) {
        if (strchr(rows[i], key) == NULL) {
            continue;
        }
        if (!vt_find(vt, labels[i], row, NULL)) {
            return false;
        }
        for (int at = 1; at < vt_columns(vt) - 1; at++) {
            if (vt_cell(vt, *row, at).text[0] != key ||
                strcmp(vt_cell(vt, *row, at - 1).text, " ") != 0 ||
                strcmp(vt_cell(vt, *row, at + 1).text, " ") != 0) {
                continue;
            }
            /* Below the key, to the right. */
            (*row)++;
            while (at < vt_columns(vt) - 1 && strcmp(vt_cell(vt, *row, at).text, " ") == 0) {
                at++;
            }
            *column = at;
            return true;
        }
    }
    return false;
}

bool rig_pad(struct vt *vt, char key, long *landed, long *attempted)
{
    char text[LINE_BYTES];
    int row = 0, column = 0;
    return rig_pad_place(vt, key, &row, &column) &&
           read_count(vt_row(vt, row, column, 0, text, sizeof text), landed, attempted);
}

bool rig_total(struct vt *vt, char corner, long *landed, long *attempted)
{
    for (int row = 0; row < vt_rows(vt); row++) {
        char line[LINE_BYTES];
        int column = 0;
        vt_row(vt, row, 0, 0, line, sizeof line);
        const char *at = strstr(line, "bout ");
        if (at == NULL || (corner == 'b' && (at = strstr(at + 5, "bout ")) == NULL)) {
            continue;
        }
        for (at += 5, column = 0; *at == ' '; at++) {
            column++;
        }
        if (column > 0 && read_count(at, landed, attempted)) {
            return true;
        }
    }
    return false;
}

/* From the bottom, where it usually stands. */
static bool find_saved(struct vt *vt, int *row, int *column, long *saved, long *waiting)
{
    char line[LINE_BYTES];
    for (*row = vt_rows(vt) - 1; *row >= 0; (*row)--) {
        vt_row(vt, *row, 0, 0, line, sizeof line);
        const char *at = strstr(line, "saved ");
        if (at != NULL && sscanf(at, "saved %ld not yet %ld", saved, waiting) == 2) {
            const char *strikes = strstr(line, "strikes "); /* as many as are saved */
            at = strikes != NULL && strikes < at ? strikes : at;
            *column = (int)(at - line); /* columns where all before it is ASCII, else a few more */
            return true;
        }
    }
    return false;
}

bool rig_saved_place(struct vt *vt, int *row, int *column)
{
    long saved = 0, waiting = 0;
    return find_saved(vt, row, column, &saved, &waiting);
}

bool rig_saved(struct vt *vt, long *saved, long *waiting)
{
    int row = 0, column = 0;
    return find_saved(vt, &row, &column, saved, waiting);
}

struct expectation {
    char what;
    long first, second;
};

static bool pad_is(struct vt *vt, void *context)
{
    const struct expectation *expected = context;
    long landed = 0, attempted = 0;
    return rig_pad(vt, expected->what, &landed, &attempted) && landed == expected->first &&
           attempted == expected->second;
}

static bool total_is(struct vt *vt, void *context)
{
    const struct expectation *expected = context;
    long landed = 0, attempted = 0;
    return rig_total(vt, expected->what, &landed, &attempted) && landed == expected->first &&
           attempted == expected->second;
}

static bool saved_is(struct vt *vt, void *context)
{
    const struct expectation *expected = context;
    long saved = 0, waiting = 0;
    return rig_saved(vt, &saved, &waiting) && waiting == 0 && saved >= expected->first;
}

bool rig_wait_pad(struct vt *vt, char key, long landed, long attempted)
{
    char what[64];
    snprintf(what, sizeof what, "key %c is to show %ld/%ld", key, landed, attempted);
    return vt_wait(vt, pad_is, &(struct expectation){key, landed, attempted}, RIG_WAIT_MS, what);
}

bool rig_wait_total(struct vt *vt, char corner, long landed, long attempted)
{
    char what[64];
    snprintf(what, sizeof what, "corner %c is to show %ld/%ld", corner, landed, attempted);
    return vt_wait(vt, total_is, &(struct expectation){corner, landed, attempted}, RIG_WAIT_MS,
                   what);
}

bool rig_wait_saved(struct vt *vt, long saved)
{
    char what[64];
    snprintf(what, sizeof what, "all is to be saved, at least %ld", saved);
    return vt_wait(vt, saved_is, &(struct expectation){'s', saved, 0}, RIG_WAIT_MS, what);
}

long rig_settled(struct vt *vt)
{
    long saved = 0, waiting = 0;
    return rig_wait_saved(vt, 0) && rig_saved(vt, &saved, &waiting) ? saved : -1;
}
