/* Databases of every past version, kept beside this file as version-N.db, become what a fresh one
 * is, and keep what they hold. Before a migration is added, `unit_log_migrate make FILE` writes the
 * sample of the version that is then the past one; NEWEST is raised with the migration,
 * and schema_made becomes the digest that the test then names. */
#include "support.h"

#include "ringtally/log/verify.h"
#include "ringtally/tally/fold.h"
#include "log/sql.h"

#define NEWEST         4
#define SAMPLE_ENTRIES 120
/* A desk's entries arrived one after the other. */
#define OUT_OF_ORDER                                                                               \
    "SELECT count(*) FROM entry AS a JOIN entry AS b USING (desk) WHERE a.seq < b.seq AND "        \
    "a.arrival > b.arrival"

static void copy_sample(const struct place *place, int version)
{
    char path[256] = "";
    char *bytes = NULL;
    size_t size = 0;
    struct error err = {0};
    snprintf(path, sizeof path, SOURCE_DIR "/tests/unit/log/version-%d.db", version);
    assert_ok(file_read(&bytes, &size, path, &err), err);
    assert_ok(file_write(place->db, bytes, size, &err), err);
    free(bytes);
}

/* What makes a schema, whatever way led to it: columns, keys and kinds of tables, and the text of
 * everything else. */
static char *schema_of(const char *path)
{
    static const char text[] =
        "SELECT group_concat(line, char(10)) FROM (SELECT line FROM ("
        "SELECT t.name || ' ' || t.strict || t.wr || ' ' || c.name || ' ' || c.type || ' ' || "
        "c.\"notnull\" || c.pk || c.hidden || ifnull(c.dflt_value, '') AS line "
        "FROM pragma_table_list AS t JOIN pragma_table_xinfo(t.name) AS c WHERE t.type = 'table' "
        "UNION ALL "
        "SELECT t.name || ' > ' || f.\"table\" || ' ' || f.\"from\" || ' ' || f.on_delete "
        "FROM pragma_table_list AS t JOIN pragma_foreign_key_list(t.name) AS f "
        "UNION ALL "
        "SELECT name || ' ' || sql FROM sqlite_schema WHERE type <> 'table' AND sql IS NOT NULL"
        ") ORDER BY line)";
    sqlite3 *db = NULL;
    sqlite3_stmt *row = NULL;
    assert_int_equal(sqlite3_open(path, &db), SQLITE_OK);
    assert_int_equal(sqlite3_prepare_v2(db, text, -1, &row, NULL), SQLITE_OK);
    assert_int_equal(sqlite3_step(row), SQLITE_ROW);
    const char *found = (const char *)sqlite3_column_text(row, 0);
    assert_non_null(found);
    char *copy = malloc(strlen(found) + 1);
    assert_non_null(copy);
    strcpy(copy, found);
    sqlite3_finalize(row);
    sqlite3_close(db);
    return copy;
}

/* A fresh database is known by a digest that stands in the program: without it each opening would
 * make a second database to compare with. */
static void schema__of_the_newest_version__is_known_by_its_digest(void **state)
{
    struct place *place = *state;
    char digest[DIGEST_TEXT] = "";
    struct log *log = open_log(place, LOG_CREATE);
    assert_int_equal(schema_digest(digest, log->db), 0);
    assert_string_equal(digest, schema_made);
    log_close(log);
}

static void migrate__every_past_version__equals_a_fresh_database(void **state)
{
    (void)state;
    void *fresh = NULL;
    assert_int_equal(place_set_up(&fresh), 0);
    log_close(open_log(fresh, LOG_CREATE));
    char *wanted = schema_of(((struct place *)fresh)->db);
    assert_non_null(strstr(wanted, "entry 10 arrival INTEGER"));
    assert_int_equal(sql_number(((struct place *)fresh)->db, "PRAGMA user_version"), NEWEST);
    for (int version = 1; version < NEWEST; version++) {
        void *old = NULL;
        assert_int_equal(place_set_up(&old), 0);
        copy_sample(old, version);
        assert_int_equal(sql_number(((struct place *)old)->db, "PRAGMA user_version"), version);
        log_close(open_log(old, LOG_WRITE));
        char *migrated = schema_of(((struct place *)old)->db);
        assert_string_equal(migrated, wanted);
        assert_int_equal(sql_number(((struct place *)old)->db, OUT_OF_ORDER), 0);
        assert_int_equal(sql_number(((struct place *)old)->db, "PRAGMA user_version"), NEWEST);
        free(migrated);
        assert_int_equal(place_tear_down(&old), 0);
    }
    free(wanted);
    assert_int_equal(place_tear_down(&fresh), 0);
}

static void migrate__sample__keeps_cards_and_entries(void **state)
{
    (void)state;
    static const struct clock_plan plan = {.rounds = 3, .round_ms = 180000, .rest_ms = 60000};
    for (int version = 1; version < NEWEST; version++) {
        void *place = NULL;
        struct error err = {0};
        struct fold *fold = NULL;
        const struct entry *entries = NULL;
        assert_int_equal(place_set_up(&place), 0);
        copy_sample(place, version);
        struct log *log = open_log(place, LOG_WRITE);
        struct bout bout = find_bout(log, "night-1/1");
        assert_string_equal(bout.fighter[CORNER_RED].name, "Ana Lume");
        assert_string_equal(bout.judge[2], "Um Pire");
        assert_ok(log_fold(log, &bout, &plan, FOLD_OFFICIAL, &fold, &err), err);
        assert_int_equal(fold_entries(fold, &entries), SAMPLE_ENTRIES);
        /* As counted when the samples were made. */
        assert_int_equal(fold_tally(fold)->all.corner[CORNER_RED].all.attempted, 17);
        assert_int_equal(fold_tally(fold)->all.corner[CORNER_BLUE].all.landed, 5);
        /* Their digests were made now, and a seal says so. */
        struct verified found;
        struct buf faults = BUF_INIT;
        assert_ok(verify_file(log, &faults, &err), err);
        assert_ok(verify_bout(log, &bout, fold, &found, &faults, &err), err);
        assert_int_equal(faults.size, 0);
        assert_int_equal(found.entries, SAMPLE_ENTRIES);
        assert_int_equal(found.unchained, 0);
        assert_int_equal(found.made_later, version < 3);
        buf_release(&faults);
        fold_free(fold);
        log_close(log);
        assert_int_equal(place_tear_down(&place), 0);
    }
}

/* The sample that every version has. */
static int make_sample(const char *path)
{
    struct place place = {0};
    struct error err = {0};
    struct desk_row *desks = NULL;
    static struct entry entries[SAMPLE_ENTRIES];
    int64_t ids[RANDOM_DESKS];
    uint64_t seed = 42;
    int count = 0;
    snprintf(place.db, sizeof place.db, "%s", path);
    struct log *log = log_with_card(&place);
    for (int i = 0; i < RANDOM_DESKS; i++) {
        ids[i] = new_desk(log, 1, i == 3 ? ids[1] : i == 4 ? ids[3] : 0).id;
    }
    random_log(entries, SAMPLE_ENTRIES, &seed);
    int code = log_desks(log, 1, &desks, &count, &err);
    code = code ? code : log_append(log, desks, entries, SAMPLE_ENTRIES, &err);
    free(desks);
    log_close(log);
    return code || sql_try(path, "PRAGMA journal_mode = DELETE; VACUUM") ? 1 : 0;
}

int main(int argc, char **argv)
{
    if (argc == 3 && strcmp(argv[1], "make") == 0) {
        return make_sample(argv[2]);
    }
    const struct CMUnitTest tests[] = {
        cmocka_unit_test_setup_teardown(schema__of_the_newest_version__is_known_by_its_digest,
                                        place_set_up, place_tear_down),
        cmocka_unit_test(migrate__every_past_version__equals_a_fresh_database),
        cmocka_unit_test(migrate__sample__keeps_cards_and_entries),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
