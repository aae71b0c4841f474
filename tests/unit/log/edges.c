/* Corners of the log that nothing else turns round: a bout's text with other desks and judges, and
 * what a closed log leaves behind. */
#include "support.h"

#include <dirent.h>

#include "ringtally/log/portable.h"
#include "ringtally/log/signs.h"
#include "ringtally/log/log.h"

/* Four desks: both corners, red, blue, neither; and the bout's text. */
static struct buf four_desks(struct log *log, struct desk_row desks[4])
{
    static const uint8_t corners[] = {3, 1, 2, 0};
    struct error err = {0};
    struct card card = {0};
    struct buf text = BUF_INIT;
    struct bout bout = find_bout(log, "night-1/1");
    for (int i = 0; i < 4; i++) {
        desks[i] = (struct desk_row){
            .operator_ = "tagger", .corners = corners[i], .opened_ms = 1000 + i, .root = i};
        assert_ok(log_desk_new(log, bout.id, &desks[i], 0, &err), err);
        desks[i].root = i;
    }
    assert_ok(log_card_get(log, "night-1", &card, &err), err);
    struct portable portable = {.card = &card, .bout = &bout, .desks = desks, .desk_count = 4};
    assert_ok(portable_write(&text, &portable, &err), err);
    card_release(&card);
    return text;
}

static void portable__corners__of_each_desk(void **state)
{
    struct place *place = *state;
    static const char *const words[] = {"\"corners\":\"both\"", "\"corners\":\"red\"",
                                        "\"corners\":\"blue\"", "\"corners\":\"\""};
    struct log *log = log_with_card(place);
    struct desk_row desks[4];
    struct buf text = four_desks(log, desks);
    const char *at = text.text;
    for (int i = 0; i < 4; i++) {
        const char *line = strstr(at, desks[i].uid);
        assert_non_null(line);
        const char *said = strstr(line, words[i]), *end = strchr(line, '\n');
        assert_true(said && said < end);
        at = end;
    }
    buf_release(&text);
    log_close(log);
}

static void loads(const struct buf *text, const char *judges, const char *message)
{
    struct error err = {0};
    size_t added = 0;
    const char *from = strstr(text->text, "\"judges\":[");
    assert_non_null(from);
    const char *to = strchr(from, ']') + 1;
    size_t room = text->size + strlen(judges) + 16;
    char *changed = malloc(room);
    assert_non_null(changed);
    snprintf(changed, room, "%.*s\"judges\":%s%s", (int)(from - text->text), text->text, judges,
             to);
    /* Nothing is written: without a database the text is only checked. */
    assert_int_equal(portable_load(NULL, changed, strlen(changed), "f.jsonl", &added, &err),
                     ERROR_FAILED);
    if (!strstr(err.text, message)) {
        fail_msg("%s: %s", judges, err.text);
    }
    free(changed);
}

/* At most seven of at most 63 bytes each, in a list. */
static void portable__judges__are_a_list_that_fits(void **state)
{
    struct place *place = *state;
    struct log *log = log_with_card(place);
    struct desk_row desks[4];
    struct buf text = four_desks(log, desks);
    char name[80] = "", list[96];
    memset(name, 'x', 64);
    loads(&text, "\"Ju Dge\"", "f.jsonl:1: judges: a list of at most 7 is needed");
    loads(&text, "[\"a\",\"b\",\"c\",\"d\",\"e\",\"f\",\"g\",\"h\"]",
          "f.jsonl:1: judges: a list of at most 7 is needed");
    loads(&text, "[\"a\",7]", "f.jsonl:1: judges: names of at most 63 bytes are needed");
    snprintf(list, sizeof list, "[\"%s\"]", name);
    loads(&text, list, "f.jsonl:1: judges: names of at most 63 bytes are needed");
    name[63] = '\0'; /* so long they may be; it is the end's digest that no longer fits */
    snprintf(list, sizeof list, "[\"%s\"]", name);
    loads(&text, list, "SHA-256");
    loads(&text, "[\"a\",\"b\",\"c\",\"d\",\"e\",\"f\",\"g\"]", "SHA-256");
    buf_release(&text);
    log_close(log);
}

static int handles(void)
{
    int count = 0;
    DIR *folder = opendir("/proc/self/fd");
    assert_non_null(folder);
    while (readdir(folder)) {
        count++;
    }
    closedir(folder);
    return count;
}

/* A log that was claimed, signed for and read leaves no open file. */
static void log_close__leaves_no_file_open(void **state)
{
    struct place *place = *state;
    struct error err = {0};
    struct desk_sign sign;
    int before = handles();
    struct log *log = log_with_card(place);
    struct desk_row desk = new_desk(log, 1, 0);
    desk.root = 0;
    assert_ok(log_desk_claim(log, desk.id, &err), err);
    assert_ok(signs_leave(log, desk.id, 1796501730250, false, &err), err);
    signs_read(log, &desk, 1, 1796501731000, &sign);
    assert_true(sign.held);
    assert_true(handles() > before);
    log_close(log);
    assert_int_equal(handles(), before);
    log = open_log(place, LOG_READ);
    assert_false(log_desk_is_live(log, desk.id)); /* the claim went with it */
    log_close(log);
    assert_int_equal(handles(), before);
}

static void feed_note__there_and_gone(void **state)
{
    struct place *place = *state;
    struct error err = {0};
    struct feed_note note = {.clients = 3, .read_ms = 5, .written_ms = 7}, seen = {0};
    struct log *log = log_with_card(place);
    int before = handles();
    assert_false(feed_note_read(place->db, &seen));
    assert_ok(feed_note_write(place->db, &note, &err), err);
    assert_true(feed_note_read(place->db, &seen));
    assert_int_equal(seen.clients, 3);
    assert_int_equal(seen.read_ms, 5);
    assert_int_equal(seen.written_ms, 7);
    note.clients = 0;
    assert_ok(feed_note_write(place->db, &note, &err), err);
    assert_true(feed_note_read(place->db, &seen));
    assert_int_equal(seen.clients, 0);
    feed_note_clear(place->db);
    assert_false(feed_note_read(place->db, &seen));
    assert_int_equal(handles(), before);
    log_close(log);
}

static int text_of(void *to, int columns, char **values, char **names)
{
    (void)columns;
    (void)names;
    char *all = to;
    snprintf(all + strlen(all), 65536 - strlen(all), "%s;", values[0]);
    return 0;
}

/* What no program of ours writes: a word in a column, past every trigger and check. */
static void forge(const char *path, const char *column, const char *word)
{
    static char triggers[65536], drops[65536];
    char change[160];
    sqlite3 *db = NULL;
    triggers[0] = drops[0] = '\0';
    assert_int_equal(sqlite3_open(path, &db), SQLITE_OK);
    sqlite3_exec(db, "SELECT sql FROM sqlite_schema WHERE type = 'trigger'", text_of, triggers,
                 NULL);
    sqlite3_exec(db, "SELECT 'DROP TRIGGER ' || name FROM sqlite_schema WHERE type = 'trigger'",
                 text_of, drops, NULL);
    snprintf(change, sizeof change, "UPDATE entry SET %s = %s", column, word);
    assert_int_equal(sqlite3_exec(db, "PRAGMA ignore_check_constraints = ON", NULL, NULL, NULL),
                     SQLITE_OK);
    assert_int_equal(sqlite3_exec(db, drops, NULL, NULL, NULL), SQLITE_OK);
    assert_int_equal(sqlite3_exec(db, change, NULL, NULL, NULL), SQLITE_OK);
    assert_int_equal(sqlite3_exec(db, triggers, NULL, NULL, NULL), SQLITE_OK);
    sqlite3_close(db);
}

/* Each word that an entry can have, one after the other as nobody knows it. */
static void log_news__unknown_word__is_refused(void **state)
{
    struct place *place = *state;
    static const struct {
        const char *column, *was;
    } words[] = {{"kind", "'strike'"},    {"act", "'add'"},       {"corner", "'red'"},
                 {"limb", "'left_hand'"}, {"target", "'head'"},   {"stance", "'orthodox'"},
                 {"position", "'open'"},  {"outcome", "'landed'"}};
    struct error err = {0};
    struct log_news news = {0};
    struct log *log = log_with_card(place);
    struct bout bout = find_bout(log, "night-1/1");
    struct desk_row desk = new_desk(log, bout.id, 0);
    struct entry strike = entry_of(0, 1, 5000, ENTRY_STRIKE);
    strike.strike = (struct strike){.corner = CORNER_RED,
                                    .limb = LIMB_LEFT_HAND,
                                    .target = TARGET_HEAD,
                                    .outcome = OUTCOME_LANDED};
    assert_ok(log_append(log, &desk, &strike, 1, &err), err);
    log_close(log);
    for (size_t i = 0; i < sizeof words / sizeof *words; i++) {
        forge(place->db, words[i].column, "'sideways'");
        log = open_log(place, LOG_READ);
        err = (struct error){0};
        assert_int_equal(log_news(log, bout.id, 0, &news, &err), ERROR_FAILED);
        if (!strstr(err.text, "holds a word that this ringtally does not know")) {
            fail_msg("%s: %s", words[i].column, err.text);
        }
        log_news_release(&news);
        log_close(log);
        forge(place->db, words[i].column, words[i].was);
        log = open_log(place, LOG_READ);
        assert_ok(log_news(log, bout.id, 0, &news, &err), err);
        assert_int_equal(news.entry_count, 1);
        assert_true(same_entry(&news.entries[0], &strike));
        log_news_release(&news);
        log_close(log);
    }
}

/* A card of which no bout is there yet goes along as well. */
static void log_merge__card_without_bouts__comes_along(void **state)
{
    struct place *place = *state, *other = NULL;
    void *set_up = NULL;
    struct error err = {0};
    struct card bare = {.id = "night-9", .title = "Night Nine", .date = "2026-03-01"}, seen = {0};
    struct log_merged merged;
    assert_int_equal(place_set_up(&set_up), 0);
    other = set_up;
    struct log *from = log_with_card(other), *log = open_log(place, LOG_CREATE);
    assert_ok(log_card_save(from, &bare, &err), err);
    assert_ok(log_merge(log, from, &merged, &err), err);
    assert_ok(log_card_get(log, "night-9", &seen, &err), err);
    assert_string_equal(seen.title, "Night Nine");
    assert_int_equal(seen.bouts, 0);
    card_release(&seen);
    assert_ok(log_card_get(log, "night-1", &seen, &err), err);
    assert_int_equal(seen.bouts, 2);
    card_release(&seen);
    log_close(from);
    log_close(log);
    place_tear_down(&set_up);
}

/* A merge that is refused has written nothing, the heads of cards neither. */
static void log_merge__refused__writes_no_card(void **state)
{
    struct place *place = *state, *other = NULL;
    void *set_up = NULL;
    struct error err = {0};
    struct card bare = {.id = "first-1", .title = "First", .date = "2026-01-01"};
    struct log_merged merged;
    struct desk_row *desks = NULL;
    int count = 0;
    assert_int_equal(place_set_up(&set_up), 0);
    other = set_up;
    struct log *log = log_with_card(place), *from = open_log(other, LOG_CREATE);
    struct desk_row desk = new_desk(log, find_bout(log, "night-1/1").id, 0);
    assert_ok(log_card_save(from, &bare, &err), err);
    assert_ok(log_merge(from, log, &merged, &err), err);
    assert_ok(log_desks(from, find_bout(from, "night-1/1").id, &desks, &count, &err), err);
    assert_int_equal(count, 1);
    for (int i = 0; i < 2; i++) { /* the same name, another content */
        struct entry entry = entry_of(0, 1, 5000 + i, ENTRY_STRIKE);
        assert_ok(log_append(i ? from : log, i ? desks : &desk, &entry, 1, &err), err);
    }
    free(desks);
    assert_int_equal(log_merge(log, from, &merged, &err), ERROR_FAILED);
    assert_int_equal(sql_number(place->db, "SELECT count(*) FROM card"), 1);
    assert_int_equal(sql_number(place->db, "SELECT count(*) FROM entry"), 1);
    log_close(from);
    log_close(log);
    place_tear_down(&set_up);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test_setup_teardown(portable__corners__of_each_desk, place_set_up,
                                        place_tear_down),
        cmocka_unit_test_setup_teardown(portable__judges__are_a_list_that_fits, place_set_up,
                                        place_tear_down),
        cmocka_unit_test_setup_teardown(log_close__leaves_no_file_open, place_set_up,
                                        place_tear_down),
        cmocka_unit_test_setup_teardown(feed_note__there_and_gone, place_set_up, place_tear_down),
        cmocka_unit_test_setup_teardown(log_merge__card_without_bouts__comes_along, place_set_up,
                                        place_tear_down),
        cmocka_unit_test_setup_teardown(log_merge__refused__writes_no_card, place_set_up,
                                        place_tear_down),
        cmocka_unit_test_setup_teardown(log_news__unknown_word__is_refused, place_set_up,
                                        place_tear_down),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
