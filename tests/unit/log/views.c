/* The views count as the fold counts. */
#include "support.h"

#include "ringtally/tally/fold.h"

static const struct clock_plan plan = {.rounds = 3, .round_ms = 180000, .rest_ms = 60000};

/* The number of the subject's row in `strike` that says exactly what the fold says. */
static int64_t matching_rows(sqlite3_stmt *find, const struct desk_row *desks,
                             const struct subject *subject)
{
    const struct entry *now = &subject->now;
    const struct strike *strike = &now->strike;
    sqlite3_reset(find);
    sqlite3_bind_text(find, 1, desks[now->name.desk].uid, -1, SQLITE_STATIC);
    sqlite3_bind_int64(find, 2, now->name.seq);
    sqlite3_bind_int(find, 3, now->round);
    sqlite3_bind_int(find, 4, now->elapsed_ms);
    sqlite3_bind_text(find, 5, corner_names[strike->corner], -1, SQLITE_STATIC);
    sqlite3_bind_text(find, 6, limb_names[strike->limb], -1, SQLITE_STATIC);
    sqlite3_bind_text(find, 7, target_names[strike->target], -1, SQLITE_STATIC);
    sqlite3_bind_text(find, 8, stance_names[strike->stance], -1, SQLITE_STATIC);
    sqlite3_bind_text(find, 9, position_names[strike->position], -1, SQLITE_STATIC);
    sqlite3_bind_text(find, 10, outcome_names[strike->outcome], -1, SQLITE_STATIC);
    sqlite3_bind_int(find, 11, strike->technique);
    sqlite3_bind_int(find, 12, now->review);
    sqlite3_bind_int(find, 13, now->off_clock);
    sqlite3_bind_int64(find, 14, now->at_ms);
    sqlite3_bind_int(find, 15, subject->counts);
    sqlite3_bind_int(find, 17, now->unsure);
    sqlite3_bind_text(find, 16, desks[now->name.desk].name, -1, SQLITE_STATIC);
    assert_int_equal(sqlite3_step(find), SQLITE_ROW);
    return sqlite3_column_int64(find, 0);
}

static int compare_strikes(sqlite3 *db, const struct fold *fold)
{
    sqlite3_stmt *find = NULL;
    const struct subject *subjects = NULL;
    const struct desk_row *desks = NULL;
    size_t count = fold_subjects(fold, &subjects);
    int live = 0;
    fold_desks(fold, &desks);
    assert_int_equal(
        sqlite3_prepare_v2(
            db,
            "SELECT count(*) FROM strike WHERE bout = 'night-1/1' AND desk = ?1 AND seq = ?2 AND "
            "round = ?3 AND elapsed_ms = ?4 AND corner = ?5 AND limb = ?6 AND target = ?7 AND "
            "stance = ?8 AND position = ?9 AND outcome = ?10 AND "
            "spinning + 2 * jumping + 4 * knockdown = ?11 AND review = ?12 AND off_clock = ?13 AND "
            "at_ms = ?14 AND official = ?15 AND desk_name = ?16 AND "
            "unsure = ?17",
            -1, &find, NULL),
        SQLITE_OK);
    for (size_t i = 0; i < count; i++) {
        if (subjects[i].now.kind == ENTRY_STRIKE && subjects[i].live) {
            assert_int_equal(matching_rows(find, desks, &subjects[i]), 1);
            live++;
        }
    }
    sqlite3_finalize(find);
    return live;
}

static int64_t total(sqlite3 *db, const char *column, int round, enum corner corner)
{
    char text[160] = "";
    sqlite3_stmt *row = NULL;
    snprintf(text, sizeof text,
             "SELECT ifnull(sum(%s), 0) FROM round_total WHERE bout = 'night-1/1' AND round = %d "
             "AND corner = '%s'",
             column, round, corner_names[corner]);
    assert_int_equal(sqlite3_prepare_v2(db, text, -1, &row, NULL), SQLITE_OK);
    assert_int_equal(sqlite3_step(row), SQLITE_ROW);
    int64_t number = sqlite3_column_int64(row, 0);
    sqlite3_finalize(row);
    return number;
}

static void compare_totals(sqlite3 *db, const struct tally *tally)
{
    for (int round = 1; round <= 3; round++) {
        for (int corner = 0; corner < CORNER_COUNT; corner++) {
            const struct corner_tally *wanted = &tally->round[round].corner[corner];
            enum corner c = (enum corner)corner;
            assert_int_equal(total(db, "attempted", round, c), wanted->all.attempted);
            assert_int_equal(total(db, "landed", round, c), wanted->all.landed);
            assert_int_equal(total(db, "blocked", round, c), wanted->blocked);
            assert_int_equal(total(db, "knockdowns", round, c), wanted->knockdowns);
        }
    }
}

/* One random log through both. Returns how many strikes the official count has. */
static int compare_once(struct place *place, uint64_t seed)
{
    enum { COUNT = 400 };
    static struct entry entries[COUNT];
    struct error err = {0};
    struct log *log = log_with_card(place);
    struct bout bout = find_bout(log, "night-1/1");
    struct desk_row *desks = NULL;
    struct fold *fold = NULL;
    sqlite3 *db = NULL;
    int count = 0;
    int64_t ids[RANDOM_DESKS];
    for (int i = 0; i < RANDOM_DESKS; i++) {
        ids[i] = new_desk(log, bout.id, i == 3 ? ids[1] : i == 4 ? ids[3] : 0).id;
    }
    assert_ok(log_desks(log, bout.id, &desks, &count, &err), err);
    random_log(entries, COUNT, &seed);
    assert_ok(log_append(log, desks, entries, COUNT, &err), err);
    assert_ok(log_fold(log, &bout, &plan, FOLD_OFFICIAL, &fold, &err), err);

    assert_int_equal(sqlite3_open(place->db, &db), SQLITE_OK);
    int live = compare_strikes(db, fold);
    assert_int_equal(sql_number(place->db, "SELECT count(*) FROM strike"), live);
    compare_totals(db, fold_tally(fold));
    int counted = fold_tally(fold)->all.corner[CORNER_RED].all.attempted +
                  fold_tally(fold)->all.corner[CORNER_BLUE].all.attempted;
    assert_int_equal(sql_number(place->db, "SELECT count(*) FROM strike WHERE official"), counted);
    sqlite3_close(db);
    fold_free(fold);
    free(desks);
    log_close(log);
    return counted;
}

static void views__random_logs__say_what_the_fold_says(void **state)
{
    (void)state;
    int counted = 0;
    for (uint64_t seed = 1; seed <= 25; seed++) {
        void *place = NULL;
        assert_int_equal(place_set_up(&place), 0);
        counted += compare_once(place, seed);
        assert_int_equal(place_tear_down(&place), 0);
    }
    assert_true(counted > 25 * 30); /* the logs do have something to compare */
}

/* Blocked views, as the fold has them. */
static void views__view_blocked__until_the_next_strike_or_word(void **state)
{
    (void)state;
    void *made = NULL;
    assert_int_equal(place_set_up(&made), 0);
    struct place *place = made;
    struct error err = {0};
    struct log *log = log_with_card(place);
    struct bout bout = find_bout(log, "night-1/1");
    struct desk_row *desks = NULL;
    struct fold *fold = NULL;
    int count = 0;
    new_desk(log, bout.id, 0);
    assert_ok(log_desks(log, bout.id, &desks, &count, &err), err);
    static const struct {
        enum entry_kind kind;
        enum entry_code code;
        int32_t elapsed_ms;
        int64_t value;
    } rows[] = {
        {ENTRY_OFFICIAL, CODE_RED, 0, 0},
        {ENTRY_VIEW, CODE_HIDDEN, 10000, 0},
        {ENTRY_STRIKE, CODE_NONE, 12000, ENTRY_INSERTED}, /* put in: nobody saw more by it */
        {ENTRY_STRIKE, CODE_NONE, 17000, 0},
        {ENTRY_VIEW, CODE_HIDDEN, 20000, 0},
        {ENTRY_VIEW, CODE_SEEN, 23500, 0},
        {ENTRY_VIEW, CODE_HIDDEN, 30000, 0},
    };
    enum { COUNT = sizeof rows / sizeof rows[0] };
    struct entry entries[COUNT];
    for (int i = 0; i < COUNT; i++) {
        entries[i] = entry_of(0, i + 1, 1700000000000 + rows[i].elapsed_ms, rows[i].kind);
        entries[i].code = (uint8_t)rows[i].code;
        entries[i].round = 1;
        entries[i].elapsed_ms = rows[i].elapsed_ms;
        entries[i].value = rows[i].value;
    }
    assert_ok(log_append(log, desks, entries, COUNT, &err), err);
    assert_ok(log_fold(log, &bout, &plan, FOLD_OFFICIAL, &fold, &err), err);
    assert_int_equal(
        sql_number(place->db, "SELECT count(*) FROM view_blocked WHERE corner = 'red'"), 3);
    assert_int_equal(sql_number(place->db, "SELECT count(*) FROM view_blocked WHERE until_ms IS "
                                           "NULL AND from_ms = 30000"),
                     1);
    assert_int_equal(sql_number(place->db, "SELECT sum(until_ms - from_ms) FROM view_blocked"),
                     7000 + 3500);
    assert_true(fold_hidden(fold, CORNER_RED));
    assert_int_equal(fold_unseen(fold, 1, CORNER_RED, 0), 7000 + 3500);
    fold_free(fold);
    free(desks);
    log_close(log);
    assert_int_equal(place_tear_down(&made), 0);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(views__view_blocked__until_the_next_strike_or_word),
        cmocka_unit_test(views__random_logs__say_what_the_fold_says),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
