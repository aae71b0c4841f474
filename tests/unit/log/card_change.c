/* card_change.c: what may change on a card under logged entries, and what is asked for first. */
#include "support.h"

static int rounds_said(const struct bout *bout)
{
    return bout->rounds;
}

/* The test card with one piece of its text replaced; `leaving`: who may be replaced, or NULL. */
static void save_text(struct log *log, const char *from, const char *to, const char *leaving,
                      const char *message)
{
    char text[1024] = TEST_CARD;
    char rest[1024] = "";
    struct error err = {0};
    char *at = strstr(text, from);
    assert_non_null(at);
    strcpy(rest, at + strlen(from));
    snprintf(at, sizeof text - (size_t)(at - text), "%s%s", to, rest);
    struct card card = card_of(text);
    const struct card_change change = {(const char *const[]){leaving, NULL}, rounds_said};
    int code = log_card_replace(log, &card, &change, &err);
    assert_string_equal(err.text, message);
    assert_int_equal(code, message[0] ? ERROR_FAILED : 0);
    card_release(&card);
}

static void save_changed(struct log *log, const char *from, const char *to, const char *message)
{
    save_text(log, from, to, NULL, message);
}

static void replace_changed(struct log *log, const char *from, const char *to, const char *leaving)
{
    save_text(log, from, to, leaving, "");
}

static void log_card__change_under_entries__only_where_they_keep_their_meaning(void **state)
{
    struct place *place = *state;
    struct log *log = log_with_card(place);
    struct error err = {0};
    struct bout bout = find_bout(log, "2");
    struct desk_row desk = new_desk(log, bout.id, 0);
    struct entry entry = entry_of(0, 1, 5000, ENTRY_STRIKE);
    int64_t entries = 0;
    entry.round = 5;

    /* Nothing is logged yet: all may change. */
    save_changed(log, "rules = boxing\nrounds = 6", "rules = sanda", "");
    save_changed(log, "", "", "");
    assert_ok(log_append(log, &desk, &entry, 1, &err), err);
    assert_ok(log_bout_entries(log, bout.id, &entries, &err), err);
    assert_int_equal(entries, 1);

    save_changed(log, "Cy Mast", "Eli Sparr",
                 "bout night-1/2: 1 entries are logged with Cy Mast in red: --replace \"Cy Mast\" "
                 "gives them to Eli Sparr");
    save_changed(log, "Cy Mast", "CY M\u00e4st", ""); /* the same person, written better */
    save_changed(log, "", "", "");
    replace_changed(log, "Cy Mast", "Eli Sparr", "Cy Mast");
    assert_string_equal(find_bout(log, "2").fighter[CORNER_RED].name, "Eli Sparr");
    replace_changed(log, "", "", "Eli Sparr");
    save_changed(log, "rules = boxing", "rules = sanda",
                 "bout night-1/2: the rules cannot change from boxing to sanda: 1 entries are "
                 "logged under boxing");
    save_changed(log, "red.name = Cy Mast\nblue.name = Dee Keel",
                 "red.name = Dee Keel\nblue.name = Cy Mast",
                 "bout night-1/2: Dee Keel cannot change corners: 1 entries are logged; `card "
                 "swap night-1/2` lets both change places");
    save_changed(log, "rounds = 6", "rounds = 4",
                 "bout night-1/2: 4 rounds are too few: round 5 has logged entries");
    save_changed(log, "rounds = 6", "rounds = 5", "");
    save_changed(log, "[bout 2]", "[bout 7]",
                 "bout night-1/2 is not on the new card, but 1 entries are logged on it: keep it "
                 "on the card");
    assert_int_equal(sql_number(place->db, "SELECT group_concat(number) = '1,2' FROM bout"), 1);
    assert_int_equal(sql_number(place->db, "SELECT count(*) FROM entry"), 1);
    log_close(log);
}

static void log_card__bout_left_out__goes_only_while_nobody_works_on_it(void **state)
{
    struct place *place = *state;
    struct log *log = log_with_card(place);
    struct error err = {0};
    new_desk(log, find_bout(log, "1").id, 0);
    struct desk_row desk = new_desk(log, find_bout(log, "2").id, 0);
    save_changed(log, "[bout 1]", "[bout 9]", ""); /* a desk without entries goes along */
    save_changed(log, "", "", "");
    assert_ok(log_desk_claim(log, desk.id, &err), err);
    save_changed(log, "[bout 2]", "[bout 7]",
                 "bout night-1/2 is not on the new card, but a desk is open on it");
    log_close(log);
}

static void log_bout_save__replacement__changes_that_bout(void **state)
{
    struct place *place = *state;
    struct log *log = log_with_card(place);
    struct error err = {0};
    struct bout bout = find_bout(log, "1");
    assert_ok(bout_set(&bout, "red.name", "Flo Anker", &err), err);
    assert_ok(bout_set(&bout, "judges", "Only One", &err), err);
    assert_ok(log_bout_save(log, &bout, &err), err);
    struct bout again = find_bout(log, "1");
    assert_string_equal(again.fighter[CORNER_RED].name, "Flo Anker");
    assert_string_equal(again.fighter[CORNER_RED].record, "1-2-3");
    assert_int_equal(again.judges, 1);
    assert_int_equal(again.id, bout.id);
    log_close(log);
}

static void log_bout_swap__entries_logged__stay_with_their_corner(void **state)
{
    struct place *place = *state;
    struct log *log = log_with_card(place);
    struct error err = {0};
    struct bout bout = find_bout(log, "2");
    struct bout before = bout;
    struct desk_row desk = new_desk(log, bout.id, 0);
    struct entry entry = entry_of(0, 1, 5000, ENTRY_STRIKE);
    assert_ok(log_append(log, &desk, &entry, 1, &err), err);
    assert_ok(log_bout_swap(log, &bout, &err), err);
    struct bout after = find_bout(log, "2");
    for (int corner = 0; corner < CORNER_COUNT; corner++) {
        const struct fighter *was = &before.fighter[corner_other((enum corner)corner)];
        assert_string_equal(after.fighter[corner].name, was->name);
        assert_string_equal(after.fighter[corner].short_name, was->short_name);
        assert_string_equal(after.fighter[corner].record, was->record);
        assert_int_equal(after.fighter[corner].stance, was->stance);
    }
    assert_true(bout_same(&bout, &after));
    assert_int_equal(sql_number(place->db, "SELECT count(*) FROM entry"), 1);
    assert_ok(log_bout_swap(log, &bout, &err), err);
    after = find_bout(log, "2");
    assert_true(bout_same(&before, &after));
    /* A database of an earlier version may hold none. */
    assert_int_equal(sql_try(place->db, "UPDATE corner SET short_name = ''"), 0);
    assert_string_equal(find_bout(log, "2").fighter[CORNER_RED].short_name, "Cy Mast");
    assert_int_equal(log_bout_drop(log, &bout, &err), ERROR_FAILED);
    struct bout first = find_bout(log, "1");
    err = (struct error){0};
    assert_ok(log_bout_drop(log, &first, &err), err);
    assert_int_equal(sql_number(place->db, "SELECT group_concat(number) = '2' FROM bout"), 1);
    log_close(log);
}

#define with_place(test) cmocka_unit_test_setup_teardown(test, place_set_up, place_tear_down)

int main(void)
{
    const struct CMUnitTest tests[] = {
        with_place(log_card__change_under_entries__only_where_they_keep_their_meaning),
        with_place(log_card__bout_left_out__goes_only_while_nobody_works_on_it),
        with_place(log_bout_swap__entries_logged__stay_with_their_corner),
        with_place(log_bout_save__replacement__changes_that_bout),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
