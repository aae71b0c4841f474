/* verify_views.c: what the views count, against what the fold counts. */
#include <inttypes.h>
#include <stdio.h>
#include <string.h>

#include "log/seal_sql.h"
#include "log/verify_sql.h"

#define COUNTS 5

static const char *const count_words[COUNTS] = {"attempted", "landed", "blocked", "unsure",
                                                "knockdowns"};

static void wanted_counts(int64_t out[COUNTS], const struct fold *fold, int round, int corner)
{
    const struct corner_tally *tally = &fold_tally(fold)->round[round].corner[corner];
    const int64_t counts[COUNTS] = {tally->all.attempted, tally->all.landed, tally->blocked,
                                    tally->unsure, tally->knockdowns};
    memcpy(out, counts, sizeof counts);
}

static void add_difference(struct buf *faults, int64_t found, int64_t wanted, int what, int round,
                           int corner)
{
    if (found != wanted) {
        seal_add(faults, "the views have %" PRId64 " %s of %s in round %d, the count is %" PRId64,
                 found, count_words[what], corner_names[corner], round, wanted);
    }
}

static int compare_totals(struct log *log, const char *name, const struct fold *fold,
                          struct buf *faults, struct error *err)
{
    bool met[ROUND_MAX + 1][CORNER_COUNT] = {{false}};
    int64_t wanted[COUNTS];
    int code = 0;
    sqlite3_stmt *row = sql_query(log, SQL_CHECK_TOTALS, err, "s", name);
    while (row && (code = sql_next(log, row, err)) > 0) {
        int64_t round = sqlite3_column_int64(row, 0);
        const char *word = (const char *)sqlite3_column_text(row, 1);
        int corner = word ? name_index(corner_names, CORNER_COUNT, word) : -1;
        if (round < 1 || round > ROUND_MAX || corner < 0) {
            continue; /* its strikes are told of below */
        }
        met[round][corner] = true;
        wanted_counts(wanted, fold, (int)round, corner);
        for (int i = 0; i < COUNTS; i++) {
            add_difference(faults, sqlite3_column_int64(row, 2 + i), wanted[i], i, (int)round,
                           corner);
        }
    }
    for (int round = 1; row && !code && round <= ROUND_MAX; round++) {
        for (int corner = 0; corner < CORNER_COUNT; corner++) {
            wanted_counts(wanted, fold, round, corner);
            if (!met[round][corner]) { /* a view has no row of a round without strikes */
                add_difference(faults, 0, wanted[0], 0, round, corner);
            }
        }
    }
    return row ? code : ERROR_FAILED;
}

static bool is_word(sqlite3_stmt *row, int column, const char *word)
{
    const char *text = (const char *)sqlite3_column_text(row, column);
    return text && strcmp(text, word) == 0;
}

/* Whether a row of `strike` says what the fold says of that strike. */
static bool same_strike(sqlite3_stmt *row, const struct subject *subject)
{
    const struct entry *now = &subject->now;
    const struct strike *strike = &now->strike;
    const int64_t numbers[][2] = {
        {2, now->round},
        {3, now->elapsed_ms},
        {10, (strike->technique & TECHNIQUE_SPINNING) != 0},
        {11, (strike->technique & TECHNIQUE_JUMPING) != 0},
        {12, (strike->technique & TECHNIQUE_KNOCKDOWN) != 0},
        {13, now->review},
        {14, now->off_clock},
        {15, now->unsure},
        {16, now->at_ms},
        {17, subject->counts},
    };
    bool same = subject->live && now->kind == ENTRY_STRIKE;
    for (size_t i = 0; i < sizeof numbers / sizeof *numbers; i++) {
        same = same && sqlite3_column_int64(row, (int)numbers[i][0]) == numbers[i][1];
    }
    return same && is_word(row, 4, corner_names[strike->corner]) &&
           is_word(row, 5, limb_names[strike->limb]) &&
           is_word(row, 6, target_names[strike->target]) &&
           is_word(row, 7, stance_names[strike->stance]) &&
           is_word(row, 8, position_names[strike->position]) &&
           is_word(row, 9, outcome_names[strike->outcome]);
}

static int32_t desk_index(const struct desk_row *desks, int count, const char *uid)
{
    for (int i = 0; i < count && uid; i++) {
        if (strcmp(desks[i].uid, uid) == 0) {
            return i;
        }
    }
    return -1;
}

static int compare_strikes(struct log *log, const char *name, const struct fold *fold,
                           struct buf *faults, struct error *err)
{
    const struct subject *subjects = NULL;
    const struct desk_row *desks = NULL;
    int desk_count = fold_desks(fold, &desks);
    size_t count = fold_subjects(fold, &subjects);
    int64_t live = 0, rows = 0, other = 0;
    int code = 0;
    for (size_t i = 0; i < count; i++) {
        live += subjects[i].live && subjects[i].now.kind == ENTRY_STRIKE;
    }
    sqlite3_stmt *row = sql_query(log, SQL_CHECK_STRIKES, err, "s", name);
    while (row && (code = sql_next(log, row, err)) > 0) {
        struct entry_name of = {
            desk_index(desks, desk_count, (const char *)sqlite3_column_text(row, 0)),
            sqlite3_column_int64(row, 1)};
        const struct subject *subject = of.desk < 0 ? NULL : fold_subject(fold, of);
        other += !subject || !same_strike(row, subject);
        rows++;
    }
    if (row && !code && (rows != live || other)) {
        seal_add(faults,
                 "the views have %" PRId64 " strikes, %" PRId64
                 " of them other than the count, which has %" PRId64,
                 rows, other, live);
    }
    return row ? code : ERROR_FAILED;
}

int verify_views(struct log *log, const struct bout *bout, const struct fold *fold, bool *differ,
                 struct buf *faults, struct error *err)
{
    char name[80];
    snprintf(name, sizeof name, "%s/%d", bout->card, bout->number);
    int code = schema_views_differ(log, differ, err);
    if (code || *differ) {
        return code;
    }
    code = compare_strikes(log, name, fold, faults, err);
    return code ? code : compare_totals(log, name, fold, faults, err);
}
