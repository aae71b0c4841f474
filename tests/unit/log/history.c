/* A fighter's bouts across cards, and the ways to say a name. */
#include "support.h"

#include "ringtally/log/log_history.h"

#define OTHER_CARD                                                                                 \
    "[card]\nid = night-2\ntitle = Second Night\ndate = 2026-03-28\nvenue = Old Rope Hall\n"       \
    "[bout 1]\nrules = boxing\nred.name = Bo Reef\nblue.name = Ána Lume\n"                        \
    "[bout 2]\nrules = boxing\nred.name = Ana Lume\nblue.name = Cy Mast\n"                         \
    "[bout 3]\nrules = boxing\nred.name = Per 100% _x\nblue.name = Ανα Λουμ\n"

static struct log *two_cards(const struct place *place)
{
    struct error err = {0};
    struct card first = card_of(TEST_CARD), second = card_of(OTHER_CARD);
    struct log *log = open_log(place, LOG_CREATE);
    assert_ok(log_card_save(log, &first, &err), err);
    assert_ok(log_card_save(log, &second, &err), err);
    card_release(&first);
    card_release(&second);
    return log;
}

static void log_fighter_find__ways_to_say_a_name__the_one_meant(void **state)
{
    static const struct {
        const char *text, *name, *error;
    } cases[] = {
        {"Ana Lume", "Ana Lume", NULL}, /* the very name, though another differs by a mark */
        {"Ána Lume", "Ána Lume", NULL},
        {"A\xcc\x81na  Lume ", "Ána Lume", NULL}, /* decomposed, and with blanks */
        {"BO REEF", "Bo Reef", NULL},
        {"mas", "Cy Mast", NULL},
        {"ΑΝΑ λ", "Ανα Λουμ", NULL},
        {"100%", "Per 100% _x", NULL},         /* no pattern: neither here ... */
        {"%", NULL, "no fighter is called %"}, /* ... nor here */
        {"ana lume", NULL, "ana lume may be Ana Lume, Ána Lume: give more of the name"},
        {"lu", NULL, "lu may be Ana Lume, Ána Lume: give more of the name"},
        {"ast", NULL, "no fighter is called ast"},
        {"", NULL, "a fighter's name is needed"},
        {" \xcc\x81", NULL, "a fighter's name is needed"},
        {"\xff", NULL, "a fighter's name is needed"},
    };
    struct log *log = two_cards(*state);
    for (size_t i = 0; i < sizeof cases / sizeof *cases; i++) {
        char name[96] = "";
        struct error err = {0};
        int code = log_fighter_find(log, cases[i].text, name, &err);
        if (cases[i].name) {
            assert_ok(code, err);
            assert_string_equal(name, cases[i].name);
        } else {
            assert_true(code < 0);
            assert_non_null(strstr(err.text, cases[i].error));
        }
    }
    log_close(log);
}

static void log_fighter_bouts__two_cards__the_newest_first(void **state)
{
    struct log *log = two_cards(*state);
    struct fighter_bout *bouts = NULL;
    size_t count = 0;
    struct error err = {0};
    assert_ok(log_fighter_bouts(log, "Bo Reef", &bouts, &count, &err), err);
    assert_int_equal(count, 2);
    assert_string_equal(bouts[0].bout.card, "night-2");
    assert_string_equal(bouts[0].date, "2026-03-28");
    assert_string_equal(bouts[0].title, "Second Night");
    assert_int_equal(bouts[0].corner, CORNER_RED);
    assert_string_equal(bouts[1].bout.card, "night-1");
    assert_int_equal(bouts[1].bout.number, 1);
    assert_int_equal(bouts[1].corner, CORNER_BLUE);
    assert_string_equal(bouts[1].bout.fighter[CORNER_RED].name, "Ana Lume");
    assert_true(bouts[1].bout.id > 0);
    free(bouts);
    bouts = NULL;
    assert_ok(log_fighter_bouts(log, "Nobody", &bouts, &count, &err), err);
    assert_int_equal(count, 0);
    free(bouts);
    log_close(log);
}

/* The cost must not grow with the database: no query of the history scans a table. */
static void log_fighter_bouts__query_plan__by_index(void **state)
{
    const struct place *place = *state;
    sqlite3 *db = NULL;
    sqlite3_stmt *row = NULL;
    int steps = 0;
    log_close(two_cards(place));
    assert_int_equal(sqlite3_open(place->db, &db), SQLITE_OK);
    assert_int_equal(
        sqlite3_prepare_v2(db,
                           "EXPLAIN QUERY PLAN SELECT bout.card FROM corner JOIN bout ON bout.id = "
                           "corner.bout JOIN card ON card.id = bout.card WHERE corner.name = ?1",
                           -1, &row, NULL),
        SQLITE_OK);
    for (; sqlite3_step(row) == SQLITE_ROW; steps++) {
        assert_int_equal(strncmp((const char *)sqlite3_column_text(row, 3), "SEARCH ", 7), 0);
    }
    assert_int_equal(steps, 3);
    sqlite3_finalize(row);
    sqlite3_close(db);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test_setup_teardown(log_fighter_find__ways_to_say_a_name__the_one_meant,
                                        place_set_up, place_tear_down),
        cmocka_unit_test_setup_teardown(log_fighter_bouts__two_cards__the_newest_first,
                                        place_set_up, place_tear_down),
        cmocka_unit_test_setup_teardown(log_fighter_bouts__query_plan__by_index, place_set_up,
                                        place_tear_down),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
