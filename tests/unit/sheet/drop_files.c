/* The files of a watched folder: their names, and that each holds its figure alone. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include "sample.h"

#include "ringtally/sheet/drop_files.h"

#define FILES_MAX 120

struct folder {
    int count;
    int room; /* files taken before one is refused; -1: all */
    char name[FILES_MAX][DROP_NAME_SIZE];
    char *text[FILES_MAX];
};

static int take(void *user, const char *name, const char *text, size_t size, struct error *err)
{
    struct folder *folder = user;
    if (folder->room == folder->count) {
        return error_set(err, ERROR_FAILED, "full");
    }
    assert_true(folder->count < FILES_MAX);
    for (int i = 0; i < folder->count; i++) {
        assert_string_not_equal(folder->name[i], name);
    }
    char *copy = malloc(size + 1);
    assert_non_null(copy);
    memcpy(copy, text, size);
    copy[size] = '\0';
    assert_int_equal(strlen(copy), size);
    snprintf(folder->name[folder->count], DROP_NAME_SIZE, "%s", name);
    folder->text[folder->count++] = copy;
    return 0;
}

static const char *text_of(const struct folder *folder, const char *name)
{
    for (int i = 0; i < folder->count; i++) {
        if (strcmp(folder->name[i], name) == 0) {
            return folder->text[i];
        }
    }
    fail_msg("no file %s", name);
    return NULL;
}

static void empty(struct folder *folder)
{
    for (int i = 0; i < folder->count; i++) {
        free(folder->text[i]);
    }
    folder->count = 0;
}

static int fill(struct folder *folder, const struct sample *sample, struct error *err)
{
    struct sheet_view view = sample_view(sample, 0);
    struct remarks remarks = {.item = NULL};
    assert_int_equal(
        remarks_init(&remarks, sample->fold, NULL, NULL, &remark_rule_default, sample->now, err),
        0);
    int code = drop_files(take, folder, &view, &remarks, err);
    remarks_release(&remarks);
    return code;
}

/* The figures are those counted by hand in sheet.c. */
static void drop_files__played__a_figure_a_file(void **state)
{
    (void)state;
    struct sample sample;
    struct folder folder = {.room = -1};
    struct error err = {0};
    struct buf json = BUF_INIT;
    sample_init(&sample);
    sample_play(&sample);
    assert_int_equal(fill(&folder, &sample, &err), 0);
    static const char *const wanted[][2] = {
        {"red-name.txt", "Vekerdøttir"},    {"blue-name.txt", "林"},
        {"red-attempted.txt", "55"}, /* 20 + 9 + 4 + 6 + 1, 12 + 2 + 1 */
        {"red-landed.txt", "28"},    /* 9 + 6, 12 + 1 */
        {"red-accuracy.txt", "51%"},        {"red-knockdowns.txt", "1"},
        {"blue-attempted.txt", "33"}, /* 15 + 7 + 1, 10 */
        {"blue-landed.txt", "9"},     /* 7 + 1, 1 */
        {"blue-knockdowns.txt", "0"},       {"red-to-leg-landed.txt", "6"},
        {"red-to-leg-attempted.txt", "6"},  {"red-legs-attempted.txt", "13"}, /* 4 + 6, 2 + 1 */
        {"red-legs-landed.txt", "7"},       {"blue-knees-attempted.txt", "10"},
        {"blue-elbows-attempted.txt", "0"}, {"clock.txt", "2:30"},
        {"clock-state.txt", "running"},     {"round.txt", "3"},
    };
    for (size_t i = 0; i < sizeof wanted / sizeof *wanted; i++) {
        assert_string_equal(text_of(&folder, wanted[i][0]), wanted[i][1]);
    }
    assert_true(strlen(text_of(&folder, "remark.txt")) > 0);
    struct sheet_view view = sample_view(&sample, 0);
    assert_int_equal(counts_json(&json, &view, &err), 0);
    assert_string_equal(text_of(&folder, "counts.json"), json.text);
    for (int i = 0; i < folder.count; i++) {
        if (strstr(folder.name[i], ".txt")) { /* a figure and nothing else */
            assert_null(strchr(folder.text[i], '\n'));
        }
    }
    buf_release(&json);
    empty(&folder);
    sample_release(&sample);
}

static void drop_files__empty__dashes_not_zeros(void **state)
{
    (void)state;
    struct sample sample;
    struct folder folder = {.room = -1};
    struct error err = {0};
    sample_init(&sample);
    assert_int_equal(fill(&folder, &sample, &err), 0);
    assert_string_equal(text_of(&folder, "red-landed.txt"), "0");
    assert_string_equal(text_of(&folder, "red-accuracy.txt"), "-");
    assert_string_equal(text_of(&folder, "red-output.txt"), "-");
    assert_string_equal(text_of(&folder, "remark.txt"), "");
    assert_string_equal(text_of(&folder, "clock-state.txt"), "ready");
    empty(&folder);
    sample_release(&sample);
}

static void drop_files__refused__ends_there(void **state)
{
    (void)state;
    struct sample sample;
    struct folder folder = {.room = 3};
    struct error err = {0};
    sample_init(&sample);
    assert_int_equal(fill(&folder, &sample, &err), ERROR_FAILED);
    assert_string_equal(err.text, "full");
    assert_int_equal(folder.count, 3);
    empty(&folder);
    sample_release(&sample);
}

static void drop_status_files__each_state(void **state)
{
    (void)state;
    struct bout bout = {.card = "quay-1", .number = 3};
    struct drop_status status = {
        .bout = &bout,
        .alive_ms = SAMPLE_START + 5000,
        .every_ms = 1000,
        .counts_ms = SAMPLE_START + 4000,
        .newest_ms = SAMPLE_START,
        .desk = {{"Iris Palm", {.held = true, .seen_ms = SAMPLE_START + 1000}, SAMPLE_START}}};
    for (int i = 0; i < DROP_STATES; i++) {
        struct folder folder = {.room = -1};
        struct error err = {0};
        status.state = (enum drop_state)i;
        assert_int_equal(drop_status_files(take, &folder, &status, &err), 0);
        assert_string_equal(text_of(&folder, "status.txt"), drop_state_names[i]);
        assert_non_null(strstr(text_of(&folder, "status.json"), drop_state_names[i]));
        empty(&folder);
    }
    struct folder folder = {.room = -1};
    struct error err = {0};
    status.trouble = "bad\xff\n";
    assert_int_equal(drop_status_files(take, &folder, &status, &err), 0);
    assert_string_equal(
        text_of(&folder, "status.json"),
        "{\"bout\":\"quay-1/3\",\"state\":\"stopped\",\"alive_at\":\"2026-12-05T20:15:35.250Z\","
        "\"alive_every_ms\":1000,\"counts_at\":\"2026-12-05T20:15:34.250Z\","
        "\"newest_entry_at\":\"2026-12-05T20:15:30.250Z\",\"newest_entry_age_ms\":5000,"
        "\"trouble\":\"?\",\"official\":{\"red\":{\"desk\":\"Iris Palm\",\"state\":\"live\","
        "\"seen_at\":\"2026-12-05T20:15:31.250Z\","
        "\"newest_entry_at\":\"2026-12-05T20:15:30.250Z\"},\"blue\":{\"desk\":null,\"state\":"
        "\"unknown\",\"seen_at\":null,"
        "\"newest_entry_at\":null},\"clock\":{\"desk\":null,\"state\":\"unknown\",\"seen_at\":null,"
        "\"newest_entry_at\":null}}}");
    empty(&folder);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(drop_files__played__a_figure_a_file),
        cmocka_unit_test(drop_files__empty__dashes_not_zeros),
        cmocka_unit_test(drop_files__refused__ends_there),
        cmocka_unit_test(drop_status_files__each_state),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
