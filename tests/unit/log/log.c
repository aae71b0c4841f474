/* The database: whose file it is, cards, desks, entries. */
#include "support.h"

#include <signal.h>
#include <sys/wait.h>

static void open_fails(const char *path, enum log_mode mode, const char *reason)
{
    struct log *log = NULL;
    struct error err = {0};
    char message[256] = "";
    snprintf(message, sizeof message, "%s: %s", path, reason);
    assert_int_equal(log_open(&log, path, mode, NULL, &err), ERROR_FAILED);
    assert_null(log);
    assert_string_equal(err.text, message);
}

static void log_open__what_is_not_ours__is_refused_by_name(void **state)
{
    struct place *place = *state;
    open_fails(place->db, LOG_READ, "there is no such database");
    open_fails(place->db, LOG_WRITE, "there is no such database");
    open_fails(place->folder, LOG_CREATE, "this is no database: no file at all");

    assert_int_equal(
        file_write(place->db, "no database, though long enough to be read as one\n", 50, NULL), 0);
    open_fails(place->db, LOG_CREATE, "this is no database");

    assert_int_equal(unlink(place->db), 0);
    assert_int_equal(sql_try(place->db, "CREATE TABLE theirs (a)"), SQLITE_OK);
    open_fails(place->db, LOG_CREATE, "this database belongs to another program");
    assert_int_equal(sql_number(place->db, "SELECT count(*) FROM sqlite_schema"), 1);
}

static void log_open__newer_version__is_refused_with_both_versions(void **state)
{
    struct place *place = *state;
    log_close(open_log(place, LOG_CREATE));
    assert_int_equal(sql_try(place->db, "PRAGMA user_version = 99"), SQLITE_OK);
    open_fails(place->db, LOG_READ,
               "the database has version 99; this ringtally knows up to version 4");
    open_fails(place->db, LOG_CREATE,
               "the database has version 99; this ringtally knows up to version 4");
}

static void log_open__empty_file__is_made_a_database_by_a_writer_only(void **state)
{
    struct place *place = *state;
    assert_int_equal(file_write(place->db, "", 0, NULL), 0);
    open_fails(place->db, LOG_READ, "the database is empty");
    log_close(open_log(place, LOG_WRITE));
    log_close(open_log(place, LOG_READ));
}

static void log_open__create__sets_what_keeps_entries(void **state)
{
    struct place *place = *state;
    struct log *log = open_log(place, LOG_CREATE);
    assert_int_equal(sql_number(place->db, "PRAGMA application_id"), 0x72746c79);
    assert_int_equal(sql_number(place->db, "PRAGMA user_version"), 4);
    assert_int_equal(sql_number(place->db, "SELECT journal_mode = 'wal' FROM pragma_journal_mode"),
                     1);
    assert_int_equal(sql_number(place->db, "SELECT count(*) FROM pragma_table_list WHERE strict = 0"
                                           " AND type = 'table' AND name NOT LIKE 'sqlite_%'"),
                     0);
    log_close(log);
}

static void log_open__missing_folders__are_made(void **state)
{
    struct place *place = *state;
    char path[128] = "", folder[96] = "";
    struct log *log = NULL;
    struct error err = {0};
    snprintf(folder, sizeof folder, "%s/a", place->folder);
    snprintf(path, sizeof path, "%s/t.db", folder);
    assert_ok(log_open(&log, path, LOG_CREATE, NULL, &err), err);
    assert_string_equal(log_path(log), path);
    log_close(log);
    assert_int_equal(unlink(path), 0);
    assert_int_equal(rmdir(folder), 0);
}

static void log_open__other_views__are_made_anew_and_their_own_kept(void **state)
{
    struct place *place = *state;
    log_close(log_with_card(place));
    assert_int_equal(sql_try(place->db, "DROP VIEW strike; CREATE VIEW strike AS SELECT 1 AS one; "
                                        "CREATE VIEW theirs AS SELECT 2 AS two"),
                     SQLITE_OK);
    struct log *log = open_log(place, LOG_READ); /* reads on without its views */
    assert_int_equal(find_bout(log, "1").number, 1);
    log_close(log);
    assert_int_equal(sql_number(place->db, "SELECT * FROM strike"), 1);
    log_close(open_log(place, LOG_WRITE));
    assert_int_equal(sql_number(place->db, "SELECT count(bout) FROM strike"), 0);
    assert_int_equal(sql_number(place->db, "SELECT two FROM theirs"), 2);
}

static void log_open__many_at_once__all_find_one_database(void **state)
{
    struct place *place = *state;
    pid_t children[8];
    for (int i = 0; i < 8; i++) {
        children[i] = fork();
        if (children[i] == 0) {
            struct log *log = NULL;
            _exit(log_open(&log, place->db, LOG_CREATE, NULL, NULL) ? 1 : 0);
        }
        assert_true(children[i] > 0);
    }
    for (int i = 0; i < 8; i++) {
        int status = -1;
        assert_int_equal(waitpid(children[i], &status, 0), children[i]);
        assert_int_equal(status, 0);
    }
    log_close(open_log(place, LOG_READ));
}

static void log_open__hanging_writer__is_busy_not_broken(void **state)
{
    struct place *place = *state;
    struct log *log = log_with_card(place);
    struct desk_row desk = {.corners = 3};
    struct error err = {0};
    sqlite3 *other = NULL;
    assert_int_equal(sqlite3_open(place->db, &other), SQLITE_OK);
    assert_int_equal(sqlite3_exec(other, "BEGIN IMMEDIATE", NULL, NULL, NULL), SQLITE_OK);
    assert_int_equal(log_desk_new(log, 1, &desk, 0, &err), ERROR_BUSY);
    assert_non_null(strstr(err.text, "another program is writing to it and does not finish"));
    sqlite3_close(other);
    err = (struct error){0};
    assert_ok(log_desk_new(log, 1, &desk, 0, &err), err);
    log_close(log);
}

static void log_card__saved__is_read_back_whole(void **state)
{
    struct place *place = *state;
    struct log *log = log_with_card(place);
    struct card wanted = card_of(TEST_CARD);
    struct card card = {0};
    struct error err = {0};
    char a[512] = "", b[512] = "";
    assert_ok(log_card_get(log, "", &card, &err), err);
    assert_string_equal(card.id, wanted.id);
    assert_string_equal(card.title, wanted.title);
    assert_string_equal(card.date, wanted.date);
    assert_string_equal(card.venue, wanted.venue);
    assert_int_equal(card.bouts, 2);
    for (int i = 0; i < card.bouts; i++) {
        assert_true(card.bout[i].id > 0);
        assert_string_equal(card.bout[i].card, "night-1");
        assert_int_equal(card.bout[i].number, i + 1);
        for (int field = 0; bout_fields[field]; field++) {
            assert_true(bout_get(&card.bout[i], bout_fields[field], a, sizeof a));
            assert_true(bout_get(&wanted.bout[i], bout_fields[field], b, sizeof b));
            assert_string_equal(a, b);
        }
    }
    card_release(&card);
    card_release(&wanted);
    log_close(log);
}

static void log_card__loaded_last__is_the_newest(void **state)
{
    struct place *place = *state;
    struct log *log = log_with_card(place);
    struct card first = card_of(TEST_CARD);
    struct card second = card_of("[card]\nid = early\ntitle = E\ndate = 2020-01-01\n[bout 3]\n"
                                 "rules = sanda\nred.name = X\nblue.name = Y\n");
    struct error err = {0};
    char(*ids)[48] = NULL;
    size_t count = 0;
    assert_ok(log_card_save(log, &second, &err), err);
    assert_string_equal(find_bout(log, "3").card, "early");
    assert_ok(log_card_save(log, &first, &err), err);
    assert_ok(log_card_ids(log, &ids, &count, &err), err);
    assert_int_equal(count, 2);
    assert_string_equal(ids[0], "night-1");
    assert_string_equal(ids[1], "early");
    assert_string_equal(find_bout(log, "1").card, "night-1");
    free(ids);
    card_release(&first);
    card_release(&second);
    log_close(log);
}

static void find_fails(struct log *log, const char *ref, int code, const char *message)
{
    struct bout bout;
    struct error err = {0};
    assert_int_equal(log_bout_find(log, ref, &bout, &err), code);
    assert_string_equal(err.text, message);
}

static void log_bout_find__unknown__says_what_there_is_not(void **state)
{
    struct place *place = *state;
    struct log *log = open_log(place, LOG_CREATE);
    char message[160] = "";
    snprintf(message, sizeof message, "%s: no card is loaded yet", place->db);
    find_fails(log, "1", ERROR_FAILED, message);
    log_close(log);
    log = log_with_card(place);
    snprintf(message, sizeof message, "%s: there is no card day-2", place->db);
    find_fails(log, "day-2/1", ERROR_MISSING, message);
    find_fails(log, "night-1/3", ERROR_MISSING, "card night-1 has no bout 3");
    find_fails(log, "one", ERROR_USAGE, "one: not a bout: CARDID/NUMBER or NUMBER is needed");
    log_close(log);
}

static void log_desk__rows__have_names_uids_and_roots(void **state)
{
    struct place *place = *state;
    struct log *log = log_with_card(place);
    struct error err = {0};
    struct desk_row *desks = NULL;
    int count = 0;
    new_desk(log, 1, 0);
    struct desk_row second = new_desk(log, 1, 0);
    struct desk_row third = {.operator_ = "", .corners = 1, .shadow = true, .opened_ms = 7};
    assert_ok(log_desk_new(log, 1, &third, 0, &err), err);
    struct desk_row fourth = {.operator_ = "tagger", .name = "tagger-2", .corners = 2};
    assert_ok(log_desk_new(log, 1, &fourth, second.id, &err), err);
    struct desk_row fifth = {.operator_ = "tagger", .name = "tagger-2", .corners = 2};
    assert_ok(log_desk_new(log, 1, &fifth, fourth.id, &err), err);
    new_desk(log, 2, 0);

    assert_ok(log_desks(log, 1, &desks, &count, &err), err);
    assert_int_equal(count, 5);
    static const char *const names[] = {"tagger", "tagger-2", "desk", "tagger-2", "tagger-2"};
    static const int roots[] = {0, 1, 2, 1, 1};
    for (int i = 0; i < count; i++) {
        assert_string_equal(desks[i].name, names[i]);
        assert_int_equal(desks[i].root, roots[i]);
        assert_int_equal(strlen(desks[i].uid), 32);
        assert_true(i == 0 || strcmp(desks[i].uid, desks[i - 1].uid) != 0);
    }
    assert_int_equal(desks[2].corners, 1);
    assert_true(desks[2].shadow);
    assert_int_equal(desks[2].opened_ms, 7);
    assert_int_equal(desks[4].id, fifth.id);
    free(desks);

    struct desk_row stranger = {.corners = 3};
    assert_int_equal(log_desk_new(log, 2, &stranger, second.id, &err), ERROR_FAILED);
    assert_int_equal(sql_number(place->db, "SELECT count(*) FROM desk WHERE bout = 2"), 1);
    log_close(log);
}

/* A child that claims the desk and reports; it holds on until the parent closes the pipe. */
static void log_desk_claim__other_process__is_seen_until_it_is_killed(void **state)
{
    struct place *place = *state;
    struct log *log = log_with_card(place);
    struct desk_row desk = new_desk(log, 1, 0);
    struct error err = {0};
    int ready[2];
    char byte = 0;
    assert_false(log_desk_is_live(log, desk.id));
    assert_int_equal(pipe(ready), 0);
    pid_t child = fork();
    if (child == 0) {
        struct log *own = NULL;
        bool held = log_open(&own, place->db, LOG_WRITE, NULL, NULL) == 0 &&
                    log_desk_claim(own, desk.id, NULL) == 0;
        byte = held ? 'y' : 'n';
        if (write(ready[1], &byte, 1) != 1) {
            _exit(1);
        }
        for (;;) {
            pause();
        }
    }
    assert_int_equal(read(ready[0], &byte, 1), 1);
    assert_int_equal(byte, 'y');
    assert_true(log_desk_is_live(log, desk.id));
    assert_false(log_desk_is_live(log, desk.id + 1));
    assert_int_equal(log_desk_claim(log, desk.id, &err), ERROR_BUSY);
    assert_string_equal(err.text, "another process has this desk open");
    assert_int_equal(kill(child, SIGKILL), 0);
    assert_int_equal(waitpid(child, NULL, 0), child);
    assert_false(log_desk_is_live(log, desk.id));
    assert_int_equal(log_desk_claim(log, desk.id, NULL), 0);
    assert_true(log_desk_is_live(log, desk.id));
    assert_int_equal(log_desk_claim(log, desk.id, NULL), 0);
    close(ready[0]);
    close(ready[1]);
    log_close(log);
}

static struct desk_row *random_desks(struct log *log, int64_t bout)
{
    struct desk_row *desks = NULL;
    struct error err = {0};
    int count = 0;
    int64_t ids[RANDOM_DESKS];
    for (int i = 0; i < RANDOM_DESKS; i++) {
        ids[i] = new_desk(log, bout, i == 3 ? ids[1] : i == 4 ? ids[3] : 0).id;
    }
    assert_ok(log_desks(log, bout, &desks, &count, &err), err);
    assert_int_equal(count, RANDOM_DESKS);
    assert_int_equal(desks[4].root, 1);
    return desks;
}

static void log_append__every_field__reads_back(void **state)
{
    struct place *place = *state;
    enum { COUNT = 500 };
    struct log *log = log_with_card(place);
    struct error err = {0};
    struct desk_row *desks = random_desks(log, 1);
    static struct entry wanted[COUNT];
    struct log_news first = {0}, news = {0};
    uint64_t seed = 7;
    random_log(wanted, COUNT, &seed);
    strcpy(wanted[3].text, "späť, 右");
    wanted[5].value = -2500;
    wanted[6].accepted = true;
    wanted[7].unsure = true;
    assert_ok(log_append(log, desks, wanted, COUNT / 2, &err), err);
    assert_ok(log_news(log, 1, 0, &first, &err), err);
    assert_int_equal(first.entry_count, COUNT / 2);
    assert_int_equal(first.arrival, COUNT / 2);
    log_news_release(&first);
    assert_ok(log_append(log, desks, wanted + COUNT / 2, COUNT / 2, &err), err);
    assert_ok(log_news(log, 1, first.arrival, &news, &err), err);
    assert_int_equal(news.entry_count, COUNT / 2);
    log_news_release(&news);
    assert_ok(log_news(log, 1, news.arrival, &first, &err), err);
    assert_int_equal(first.entry_count, 0);
    assert_int_equal(first.arrival, COUNT);
    log_news_release(&first);
    assert_ok(log_news(log, 1, 0, &news, &err), err);
    const struct entry *got = news.entries;
    size_t count = news.entry_count;
    assert_int_equal(count, COUNT);
    for (size_t i = 0; i < COUNT; i++) {
        size_t at = 0;
        while (at < count && !entry_same(got[at].name, wanted[i].name)) {
            at++;
        }
        assert_true(at < count);
        assert_true(same_entry(&got[at], &wanted[i]));
    }
    log_news_release(&news);
    free(desks);
    log_close(log);
}

static void log_append__same_again__is_nothing_new_but_another_is_refused(void **state)
{
    struct place *place = *state;
    struct log *log = log_with_card(place);
    struct error err = {0};
    struct desk_row desk = new_desk(log, 1, 0);
    struct entry entries[2] = {entry_of(0, 1, 5000, ENTRY_STRIKE),
                               entry_of(0, 2, 5001, ENTRY_STRIKE)};
    assert_ok(log_append(log, &desk, entries, 1, &err), err);
    assert_ok(log_append(log, &desk, entries, 2, &err), err);
    assert_int_equal(sql_number(place->db, "SELECT count(*) FROM entry"), 2);

    struct entry other[2] = {entry_of(0, 3, 5002, ENTRY_STRIKE), entries[1]};
    other[1].strike.limb = LIMB_KNEE;
    assert_int_equal(log_append(log, &desk, other, 2, &err), ERROR_FAILED);
    assert_non_null(strstr(err.text, "is there already and says something else"));
    assert_int_equal(sql_number(place->db, "SELECT count(*) FROM entry"), 2);

    err = (struct error){0};
    other[0].round = 0;
    assert_int_equal(log_append(log, &desk, other, 1, &err), ERROR_FAILED);
    assert_non_null(strstr(err.text, "round out of range"));
    log_close(log);
}

static void log_append__anybody__cannot_change_what_is_there(void **state)
{
    struct place *place = *state;
    struct log *log = log_with_card(place);
    struct error err = {0};
    struct desk_row desk = new_desk(log, 1, 0);
    struct entry entry = entry_of(0, 1, 5000, ENTRY_STRIKE);
    assert_ok(log_append(log, &desk, &entry, 1, &err), err);
    assert_int_equal(sql_try(place->db, "UPDATE entry SET round = 2"), SQLITE_CONSTRAINT);
    assert_int_equal(sql_try(place->db, "DELETE FROM entry"), SQLITE_CONSTRAINT);
    assert_int_equal(sql_try(place->db, "INSERT OR REPLACE INTO entry SELECT * FROM entry"),
                     SQLITE_CONSTRAINT);
    assert_int_equal(sql_try(place->db, "UPDATE desk SET name = 'x'"), SQLITE_CONSTRAINT);
    assert_int_equal(sql_try(place->db, "PRAGMA foreign_keys = ON; DELETE FROM bout WHERE id = 1"),
                     SQLITE_CONSTRAINT);
    log_close(log);
}

static void log_append__subject_of_another_bout__is_refused(void **state)
{
    struct place *place = *state;
    struct log *log = log_with_card(place);
    struct error err = {0};
    struct desk_row desks[2] = {new_desk(log, 1, 0), new_desk(log, 2, 0)};
    struct entry entries[2] = {entry_of(0, 1, 5000, ENTRY_STRIKE),
                               entry_of(1, 1, 5001, ENTRY_STRIKE)};
    entries[1].act = ACT_AMEND;
    entries[1].subject = entries[0].name;
    assert_int_equal(log_append(log, desks, entries, 2, &err), ERROR_FAILED);
    assert_non_null(strstr(err.text, "it names an entry of another bout"));
    assert_int_equal(sql_number(place->db, "SELECT count(*) FROM entry"), 0);
    log_close(log);
}

/* A desk's late entries lie below what is known of it, and another bout's between them. */
static void log_news__late_entries__arrive_all_the_same(void **state)
{
    struct place *place = *state;
    struct log *log = log_with_card(place);
    struct error err = {0};
    struct log_news news = {0};
    struct desk_row desks[2] = {new_desk(log, 1, 0), new_desk(log, 2, 0)};
    struct entry entries[6];
    for (int i = 0; i < 6; i++) {
        entries[i] = entry_of(0, i + 1, 5000 + i, ENTRY_STRIKE);
    }
    struct entry other = entry_of(1, 1, 4000, ENTRY_STRIKE);
    assert_ok(log_append(log, desks, entries + 5, 1, &err), err);
    assert_ok(log_news(log, 1, 0, &news, &err), err);
    assert_int_equal(news.entry_count, 1);
    log_news_release(&news);
    assert_ok(log_append(log, desks, entries, 5, &err), err);
    assert_ok(log_append(log, desks, &other, 1, &err), err);
    assert_ok(log_news(log, 1, news.arrival, &news, &err), err);
    assert_int_equal(news.entry_count, 5);
    assert_int_equal(news.desk_count, 1);
    for (int i = 0; i < 5; i++) {
        assert_true(same_entry(&news.entries[i], &entries[i]));
    }
    log_news_release(&news);
    log_close(log);
}

static struct entry sign_of(int64_t seq, int64_t utc_ms, enum entry_code code)
{
    struct entry entry = entry_of(0, seq, utc_ms, ENTRY_SIGN);
    entry.code = (uint8_t)code;
    return entry;
}

static void log_append__signed_bout__takes_only_its_reopening(void **state)
{
    struct place *place = *state;
    struct log *log = log_with_card(place);
    struct error err = {0};
    struct desk_row desks[3] = {new_desk(log, 1, 0), new_desk(log, 1, 0), new_desk(log, 2, 0)};
    struct entry strike = entry_of(0, 1, 5000, ENTRY_STRIKE);
    struct entry sign = sign_of(2, 5001, CODE_SIGN), reopen = sign_of(3, 5002, CODE_REOPEN);
    struct entry late = entry_of(1, 1, 5003, ENTRY_NOTE);
    struct entry elsewhere = entry_of(2, 1, 5004, ENTRY_STRIKE);
    assert_ok(log_append(log, desks, &strike, 1, &err), err);
    assert_ok(log_append(log, desks, &sign, 1, &err), err);
    assert_int_equal(log_append(log, desks, &late, 1, &err), ERROR_FAILED);
    assert_non_null(strstr(err.text, "the record is signed"));
    /* What is there already may be said again, and other bouts are open. */
    assert_ok(log_append(log, desks, &strike, 1, &err), err);
    assert_ok(log_append(log, desks, &elsewhere, 1, &err), err);
    assert_int_equal(sql_try(place->db, "INSERT INTO entry (desk, seq, utc_ms, at_ms, kind, act, "
                                        "code, round, elapsed_ms, off_clock, review, accepted, "
                                        "position, value, text) VALUES (1, 9, 6000, 6000, 'note', "
                                        "'add', '', 1, 0, 0, 0, 0, 'open', 0, 'x')"),
                     SQLITE_CONSTRAINT);
    assert_ok(log_append(log, desks, &reopen, 1, &err), err);
    assert_ok(log_append(log, desks, &late, 1, &err), err);
    assert_int_equal(sql_number(place->db, "SELECT count(*) FROM uniting"), 0);
    log_close(log);
}

static void log_data_version__other_connection__changes_it(void **state)
{
    struct place *place = *state;
    struct log *log = log_with_card(place);
    struct log *other = open_log(place, LOG_WRITE);
    struct error err = {0};
    int64_t before = 0, own = 0, after = 0;
    assert_ok(log_data_version(log, &before, &err), err);
    new_desk(log, 1, 0);
    assert_ok(log_data_version(log, &own, &err), err);
    assert_int_equal(own, before);
    new_desk(other, 1, 0);
    assert_ok(log_data_version(log, &after, &err), err);
    assert_true(after != before);
    log_close(other);
    log_close(log);
}

static void log_default_path__environment__is_followed_in_order(void **state)
{
    (void)state;
    char path[64] = "";
    struct error err = {0};
    setenv("RINGTALLY_DB", "x.db", 1);
    setenv("XDG_DATA_HOME", "/data", 1);
    setenv("HOME", "/home/a", 1);
    assert_int_equal(log_default_path(path, sizeof path, &err), 0);
    assert_string_equal(path, "x.db");
    unsetenv("RINGTALLY_DB");
    assert_int_equal(log_default_path(path, sizeof path, &err), 0);
    assert_string_equal(path, "/data/ringtally/ringtally.db");
    setenv("XDG_DATA_HOME", "relative", 1);
    assert_int_equal(log_default_path(path, sizeof path, &err), 0);
    assert_string_equal(path, "/home/a/.local/share/ringtally/ringtally.db");
    assert_int_equal(log_default_path(path, 8, &err), ERROR_FAILED);
    unsetenv("HOME");
    assert_int_equal(log_default_path(path, sizeof path, &err), ERROR_FAILED);
}

#define with_place(test) cmocka_unit_test_setup_teardown(test, place_set_up, place_tear_down)

int main(void)
{
    const struct CMUnitTest tests[] = {
        with_place(log_open__what_is_not_ours__is_refused_by_name),
        with_place(log_open__newer_version__is_refused_with_both_versions),
        with_place(log_open__empty_file__is_made_a_database_by_a_writer_only),
        with_place(log_open__create__sets_what_keeps_entries),
        with_place(log_open__missing_folders__are_made),
        with_place(log_open__other_views__are_made_anew_and_their_own_kept),
        with_place(log_open__many_at_once__all_find_one_database),
        with_place(log_open__hanging_writer__is_busy_not_broken),
        with_place(log_card__saved__is_read_back_whole),
        with_place(log_card__loaded_last__is_the_newest),
        with_place(log_bout_find__unknown__says_what_there_is_not),
        with_place(log_desk__rows__have_names_uids_and_roots),
        with_place(log_desk_claim__other_process__is_seen_until_it_is_killed),
        with_place(log_append__every_field__reads_back),
        with_place(log_append__same_again__is_nothing_new_but_another_is_refused),
        with_place(log_append__anybody__cannot_change_what_is_there),
        with_place(log_append__subject_of_another_bout__is_refused),
        with_place(log_news__late_entries__arrive_all_the_same),
        with_place(log_append__signed_bout__takes_only_its_reopening),
        with_place(log_data_version__other_connection__changes_it),
        cmocka_unit_test(log_default_path__environment__is_followed_in_order),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
