/* Entries as JSON Lines, out and in again. */
#include "support.h"

#include "ringtally/log/portable.h"
#include "ringtally/base/sha256.h"

enum { COUNT = 300 };

/* A database with a random log, and its portable text. */
struct source {
    struct log *log;
    struct buf text;
    struct entry entries[COUNT];
    struct desk_row *desks;
};

static void source_open(struct source *source, const struct place *place)
{
    struct error err = {0};
    struct card card = {0};
    int count = 0;
    uint64_t seed = 11;
    int64_t ids[RANDOM_DESKS];
    *source = (struct source){.log = log_with_card(place)};
    struct bout bout = find_bout(source->log, "night-1/1");
    for (int i = 0; i < RANDOM_DESKS; i++) {
        ids[i] = new_desk(source->log, bout.id, i == 3 ? ids[1] : i == 4 ? ids[3] : 0).id;
    }
    assert_ok(log_desks(source->log, bout.id, &source->desks, &count, &err), err);
    random_log(source->entries, COUNT, &seed);
    source->entries[2].value = -1000;
    strcpy(source->entries[1].text, "\"quoted\", späť, 右");
    assert_ok(log_append(source->log, source->desks, source->entries, COUNT, &err), err);
    assert_ok(log_card_get(source->log, "night-1", &card, &err), err);
    struct portable portable = {&card,           &bout, source->desks, RANDOM_DESKS,
                                source->entries, COUNT, NULL,          0};
    assert_ok(portable_write(&source->text, &portable, &err), err);
    card_release(&card);
}

static void source_close(struct source *source)
{
    buf_release(&source->text);
    free(source->desks);
    log_close(source->log);
}

struct both {
    struct place *here, *there;
};

static int both_set_up(void **state)
{
    struct both *both = calloc(1, sizeof *both);
    void *here = NULL, *there = NULL;
    if (!both || place_set_up(&here) || place_set_up(&there)) {
        return -1;
    }
    both->here = here;
    both->there = there;
    *state = both;
    return 0;
}

static int both_tear_down(void **state)
{
    struct both *both = *state;
    void *here = both->here, *there = both->there;
    free(both);
    return place_tear_down(&here) | place_tear_down(&there);
}

static int load(struct log *log, const char *text, size_t size, size_t *added, struct error *err)
{
    return portable_load(log, text, size, "f.jsonl", added, err);
}

static void portable_load__fresh_database__holds_the_same_log(void **state)
{
    struct both *both = *state;
    struct source source;
    struct error err = {0};
    struct card card = {0};
    struct desk_row *desks = NULL;
    int desk_count = 0;
    size_t added = 0;
    source_open(&source, both->here);
    struct log *log = open_log(both->there, LOG_CREATE);
    assert_ok(load(log, source.text.text, source.text.size, &added, &err), err);
    assert_int_equal(added, COUNT);

    struct bout bout = find_bout(log, "night-1/1");
    char a[512] = "", b[512] = "";
    struct bout wanted = find_bout(source.log, "night-1/1");
    for (int field = 0; bout_fields[field]; field++) {
        assert_true(bout_get(&bout, bout_fields[field], a, sizeof a));
        assert_true(bout_get(&wanted, bout_fields[field], b, sizeof b));
        assert_string_equal(a, b);
    }
    assert_ok(log_card_get(log, "night-1", &card, &err), err);
    assert_string_equal(card.venue, "Old Rope Hall");
    card_release(&card);
    assert_ok(log_desks(log, bout.id, &desks, &desk_count, &err), err);
    assert_int_equal(desk_count, RANDOM_DESKS);
    for (int i = 0; i < desk_count; i++) {
        assert_string_equal(desks[i].uid, source.desks[i].uid);
        assert_string_equal(desks[i].name, source.desks[i].name);
        assert_int_equal(desks[i].root, source.desks[i].root);
        assert_int_equal(desks[i].corners, source.desks[i].corners);
        assert_int_equal(desks[i].opened_ms, source.desks[i].opened_ms);
    }
    struct log_news news = {0};
    assert_ok(log_news(log, bout.id, 0, &news, &err), err);
    size_t count = news.entry_count;
    const struct entry *entries = news.entries;
    assert_int_equal(count, COUNT);
    for (size_t i = 0; i < count; i++) {
        size_t at = 0;
        while (!entry_same(source.entries[at].name, entries[i].name)) {
            at++;
        }
        assert_true(same_entry(&source.entries[at], &entries[i]));
    }
    log_news_release(&news);
    free(desks);
    log_close(log);
    source_close(&source);
}

static void portable_load__again__adds_nothing(void **state)
{
    struct both *both = *state;
    struct source source;
    struct error err = {0};
    size_t added = 9;
    source_open(&source, both->here);
    assert_ok(load(source.log, source.text.text, source.text.size, &added, &err), err);
    assert_int_equal(added, 0);
    assert_int_equal(sql_number(both->here->db, "SELECT count(*) FROM entry"), COUNT);
    source_close(&source);
}

/* Two tables tag the same bout on two machines: their union is the merge, in either order. */
static void portable_load__other_desks__are_united(void **state)
{
    struct both *both = *state;
    struct source source;
    struct error err = {0};
    size_t added = 0;
    source_open(&source, both->here);
    struct log *log = log_with_card(both->there);
    struct desk_row desk = new_desk(log, 1, 0);
    struct entry own = entry_of(0, 1, 5000, ENTRY_STRIKE);
    assert_ok(log_append(log, &desk, &own, 1, &err), err);
    assert_ok(load(log, source.text.text, source.text.size, &added, &err), err);
    assert_int_equal(added, COUNT);
    assert_int_equal(sql_number(both->there->db, "SELECT count(*) FROM entry"), COUNT + 1);
    assert_int_equal(sql_number(both->there->db, "SELECT count(*) FROM bout"), 2);
    log_close(log);
    source_close(&source);
}

static void load_fails(struct log *log, const char *text, size_t size, const char *message)
{
    struct error err = {0};
    size_t added = 1;
    assert_int_equal(load(log, text, size, &added, &err), ERROR_FAILED);
    assert_string_equal(err.text, message);
    assert_int_equal(added, 0);
}

/* The text with the first `from` replaced; freed by the caller. */
static char *changed(const struct buf *text, const char *from, const char *to)
{
    char *at = strstr(text->text, from);
    assert_non_null(at);
    char *copy = malloc(text->size + strlen(to) + 1);
    assert_non_null(copy);
    snprintf(copy, text->size + strlen(to) + 1, "%.*s%s%s", (int)(at - text->text), text->text, to,
             at + strlen(from));
    return copy;
}

/* The same with the last `from`. */
static char *changed_last(const struct buf *text, const char *from, const char *to)
{
    const char *at = text->text;
    for (const char *next = at; (next = strstr(next, from)) != NULL; next++) {
        at = next;
    }
    struct buf end = {.text = (char *)at, .size = text->size - (size_t)(at - text->text)};
    char *rest = changed(&end, from, to);
    char *copy = malloc(text->size + strlen(to) + 1);
    assert_non_null(copy);
    snprintf(copy, text->size + strlen(to) + 1, "%.*s%s", (int)(at - text->text), text->text, rest);
    free(rest);
    return copy;
}

/* The text with an end that fits it again: somebody wrote it so. */
static char *sealed(char *text)
{
    char digest[SHA256_TEXT];
    char *end = strstr(text, "{\"end\"");
    char *mark = end ? strstr(end, "\"sha256\":\"") : NULL;
    assert_non_null(mark);
    sha256_text(digest, text, (size_t)(end - text));
    memcpy(mark + strlen("\"sha256\":\""), digest, 64);
    return text;
}

/* ... and a text that was cut anywhere. */
static void portable_load__bad_text__changes_nothing_and_names_the_line(void **state)
{
    struct both *both = *state;
    struct source source;
    static const struct {
        const char *from, *to, *message;
    } cases[] = {
        {"{\"ringtally\":\"log\"", "{\"ringtally\":\"cat\"",
         "f.jsonl:1: this is no log of ringtally's"},
        {"\"version\":2", "\"version\":3",
         "f.jsonl:1: the log has version 3; this ringtally knows up to version 2"},
        {"\"id\":\"night-1\"", "\"id\":\"../x\"",
         "f.jsonl:1: ../x/1: not a bout: CARDID/NUMBER or NUMBER is needed"},
        {"\"weight\"", "\"heft\"", "f.jsonl:1: weight is missing"},
        {"\"referee\"", "\"mood\":1,\"referee\"", "f.jsonl:1: mood is not known here"},
        {"\"stance\":\"orthodox\"", "\"stance\":7", "f.jsonl:1: stance: a text is needed"},
        {"\"shadow\":false", "\"shadow\":0", "f.jsonl:2: shadow: true or false is needed"},
        {"\"entry\":1", "\"entry\":0",
         "f.jsonl:7: entry: a whole number from 1 to 9223372036854775807 is needed"},
        {"\"round\":1", "\"round\":257", "f.jsonl:7: round: a whole number from 1 to 20 is needed"},
        {"\"kind\":\"official\"", "\"kind\":\"sleep\"", "f.jsonl:7: kind: there is no sleep"},
        {"\"code\":\"red\"", "\"code\":\"stop\"",
         "f.jsonl:7: its code does not belong to its kind"},
        {"\"prior\":\"", "\"prior\":\"0", "f.jsonl:7: prior: 64 hexadecimal digits are needed"},
        {"{\"entry\"", "{entry", "f.jsonl:7: no JSON: string or '}' expected near 'entry'"},
        {"\"at_ms\":17", "\"at_ms\":18",
         "f.jsonl:307: the lines above were changed after they were written: their SHA-256 is "
         "another"},
        {"{\"end\":306", "{\"end\":305", "f.jsonl:307: 305 lines were written, 306 are here"},
    };
    source_open(&source, both->here);
    struct log *log = open_log(both->there, LOG_CREATE);
    for (size_t i = 0; i < sizeof cases / sizeof cases[0]; i++) {
        char *text = changed(&source.text, cases[i].from, cases[i].to);
        load_fails(log, text, strlen(text), cases[i].message);
        free(text);
    }
    load_fails(log, "", 0, "f.jsonl: cut short after line 0: its last line is missing");
    for (size_t size = 1; size < source.text.size - 1; size += 97) {
        struct error err = {0};
        size_t added = 0;
        assert_int_equal(load(log, source.text.text, size, &added, &err), ERROR_FAILED);
    }
    assert_int_equal(sql_number(both->there->db,
                                "SELECT (SELECT count(*) FROM card) + (SELECT count(*) FROM bout) "
                                "+ (SELECT count(*) FROM desk) + (SELECT count(*) FROM entry)"),
                     0);
    log_close(log);
    source_close(&source);
}

static void portable_load__same_name_other_content__refuses_the_whole(void **state)
{
    struct both *both = *state;
    struct source source;
    struct error err = {0};
    size_t added = 0;
    source_open(&source, both->here);
    struct log *log = open_log(both->there, LOG_CREATE);
    /* A desk's last entry: none behind it knows its digest. */
    char *other =
        sealed(changed_last(&source.text, "\"elapsed_ms\":", "\"accepted\":true,\"elapsed_ms\":"));
    assert_ok(load(log, other, strlen(other), &added, &err), err);
    int code = load(log, source.text.text, source.text.size, &added, &err);
    assert_int_equal(code, ERROR_FAILED);
    assert_non_null(strstr(err.text, "is there already and says something else"));
    assert_int_equal(sql_number(both->there->db, "SELECT count(*) FROM entry"), COUNT);
    free(other);
    log_close(log);
    source_close(&source);
}

static void portable_load__entry_edited_and_end_made_to_fit__is_named(void **state)
{
    struct both *both = *state;
    struct source source;
    char message[160] = "";
    source_open(&source, both->here);
    struct log *log = open_log(both->there, LOG_CREATE);
    char *other =
        sealed(changed(&source.text, "\"elapsed_ms\":", "\"accepted\":true,\"elapsed_ms\":"));
    snprintf(message, sizeof message,
             "f.jsonl: entry 1 of desk %s was changed after it was written: the next one carries "
             "another digest of it",
             source.desks[source.entries[0].name.desk].uid);
    load_fails(log, other, strlen(other), message);
    free(other);
    /* What is said of a desk is under its first entry. */
    other = sealed(changed(&source.text, "\"operator\":\"tagger\"", "\"operator\":\"tugger\""));
    struct error err = {0};
    size_t added = 0;
    assert_int_equal(load(log, other, strlen(other), &added, &err), ERROR_FAILED);
    assert_non_null(strstr(err.text, "what is said of desk"));
    free(other);
    log_close(log);
    source_close(&source);
}

static void portable_load__other_rules_here__is_refused(void **state)
{
    struct both *both = *state;
    struct source source;
    source_open(&source, both->here);
    char *other = sealed(changed(&source.text, "\"rules\":\"kickboxing\"", "\"rules\":\"sanda\""));
    load_fails(source.log, other, strlen(other),
               "f.jsonl: bout night-1/1 was logged under sanda, but is under kickboxing here");
    free(other);
    source_close(&source);
}

static void portable_write__rescue__needs_no_more_than_the_card_id(void **state)
{
    struct both *both = *state;
    struct source source;
    struct error err = {0};
    struct buf text = BUF_INIT;
    struct card card = {.id = "night-1"};
    size_t added = 0;
    source_open(&source, both->here);
    struct bout bout = find_bout(source.log, "night-1/1");
    struct portable portable = {&card, &bout, source.desks, 1, source.entries + 20, 20, NULL, 0};
    assert_int_equal(portable_write(&text, &portable, &err),
                     ERROR_FAILED); /* entries of desks that are not given */
    buf_release(&text);
    err = (struct error){0};
    portable.desk_count = RANDOM_DESKS;
    assert_ok(portable_write(&text, &portable, &err), err);
    struct log *log = open_log(both->there, LOG_CREATE);
    assert_ok(load(log, text.text, text.size, &added, &err), err);
    assert_int_equal(added, 20);
    assert_int_equal(sql_number(both->there->db, "SELECT title = 'night-1' FROM card"), 1);
    assert_ok(load(log, source.text.text, source.text.size, &added, &err), err);
    assert_int_equal(added, COUNT - 20);
    buf_release(&text);
    log_close(log);
    source_close(&source);
}

/* The same log as a version wrote it that knew no digests of entries; freed by the caller. */
static char *as_version_1(const struct buf *text)
{
    static const char key[] = ",\"prior\":\"";
    char *old = changed(text, "\"version\":2", "\"version\":1");
    for (char *at = old; (at = strstr(at, key)) != NULL;) {
        char *rest = at + sizeof key - 1 + 64 + 1;
        memmove(at, rest, strlen(rest) + 1);
    }
    return sealed(old);
}

static void portable_load__version_1__gets_the_same_digests_and_a_seal_that_says_so(void **state)
{
    struct both *both = *state;
    struct source source;
    struct error err = {0};
    size_t added = 0;
    source_open(&source, both->here);
    struct log *log = open_log(both->there, LOG_CREATE);
    char *old = as_version_1(&source.text);
    assert_ok(load(log, old, strlen(old), &added, &err), err);
    assert_int_equal(added, COUNT);
    static const char digests[] =
        "SELECT count(*) FROM entry AS a JOIN desk AS d ON d.id = a.desk WHERE a.prior IS NOT NULL";
    assert_int_equal(sql_number(both->there->db, digests), COUNT);
    static const char made[] =
        "SELECT count(*) FROM seal WHERE instr(statement, char(10) || 'made import' || char(10))";
    assert_int_equal(sql_number(both->there->db, made), 1);
    /* The new form finds nothing that differs. */
    assert_ok(load(log, source.text.text, source.text.size, &added, &err), err);
    assert_int_equal(added, 0);
    free(old);
    log_close(log);
    source_close(&source);
}

/* Bytes changed, cut out and doubled: it is refused; or, where somebody sealed it anew, it loads or
 * nothing of it does. (Where entries have digests hardly anything loads, so half of the texts are
 * of the form without.) */
static void portable_load__damaged_text__is_whole_or_not_there(void **state)
{
    struct both *both = *state;
    struct source source;
    uint64_t seed = 17;
    int loaded = 0, refused = 0;
    int64_t before = 0;
    source_open(&source, both->here);
    struct log *log = open_log(both->there, LOG_CREATE);
    char *text = malloc(source.text.size + 1);
    char *old = as_version_1(&source.text);
    assert_non_null(text);
    for (int i = 0; i < 800; i++) {
        const char *whole = i % 4 == 1 ? old : source.text.text;
        size_t size = strlen(whole);
        memcpy(text, whole, size);
        for (uint32_t times = 1 + roll(&seed, 3); times > 0; times--) {
            uint32_t at = roll(&seed, (uint32_t)size - 40), from = roll(&seed, (uint32_t)size - 40);
            switch (roll(&seed, 3)) {
            case 0:
                text[at] = (char)roll(&seed, 256);
                break;
            case 1:
                memmove(text + at, text + at + 7, size - at - 7);
                size -= 7;
                break;
            default:
                memmove(text + at, text + from, 1 + roll(&seed, 30));
                break;
            }
        }
        struct error err = {0};
        size_t added = 0;
        text[size] = '\0';
        bool same = size == strlen(whole) && memcmp(text, whole, size) == 0;
        /* The digest's own digits may be damaged, not what stands around them. */
        const char *end = strstr(text, "{\"end\":306,\"sha256\":\"");
        bool seal = i % 2 && end && strlen(end) >= 88;
        int code = load(log, seal ? sealed(text) : text, size, &added, &err);
        assert_true(code != 0 || same || seal);
        int64_t stored = sql_number(both->there->db, "SELECT count(*) FROM entry");
        assert_int_equal(stored - before, added);
        assert_true(code == 0 || (added == 0 && err.text[0]));
        before = stored;
        loaded += code == 0;
        refused += code != 0;
    }
    assert_true(loaded > 0 && refused > 0);
    free(old);
    free(text);
    log_close(log);
    source_close(&source);
}

#define with_both(test) cmocka_unit_test_setup_teardown(test, both_set_up, both_tear_down)

int main(void)
{
    const struct CMUnitTest tests[] = {
        with_both(portable_load__fresh_database__holds_the_same_log),
        with_both(portable_load__again__adds_nothing),
        with_both(portable_load__other_desks__are_united),
        with_both(portable_load__bad_text__changes_nothing_and_names_the_line),
        with_both(portable_load__same_name_other_content__refuses_the_whole),
        with_both(portable_load__entry_edited_and_end_made_to_fit__is_named),
        with_both(portable_load__other_rules_here__is_refused),
        with_both(portable_load__version_1__gets_the_same_digests_and_a_seal_that_says_so),
        with_both(portable_load__damaged_text__is_whole_or_not_there),
        with_both(portable_write__rescue__needs_no_more_than_the_card_id),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
