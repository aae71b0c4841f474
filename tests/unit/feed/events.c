#include "../log/support.h"

#include "feed/board.h"

static _Thread_local int until_none = -1; /* how many of this thread go well before one fails */

void *__real_malloc(size_t size);
void *__real_calloc(size_t count, size_t size);
void *__wrap_malloc(size_t size);
void *__wrap_calloc(size_t count, size_t size);

static bool has_memory(void)
{
    return until_none < 0 || until_none-- > 0;
}

void *__wrap_malloc(size_t size)
{
    return has_memory() ? __real_malloc(size) : NULL;
}

void *__wrap_calloc(size_t count, size_t size)
{
    return has_memory() ? __real_calloc(count, size) : NULL;
}

static void nothing(void *user)
{
    (void)user;
}

static void silent(void *user, const char *line)
{
    (void)user;
    (void)line;
}

/* Each allocation of it fails in turn: it says so, nothing is freed twice (the
 * address sanitizer, or the C library, looks) and the next one is served. */
static void stream_open__no_memory__says_so_and_goes_on(void **state)
{
    const struct place *place = *state;
    struct error err = {0};
    log_close(log_with_card(place));
    struct board *board = NULL;
    struct board_setup setup = {
        .db = place->db, .changed = nothing, .second = nothing, .say = silent};
    assert_ok(board_open(&board, &setup, &err), err);
    struct stream *first = NULL; /* the bout is loaded for it */
    assert_int_equal(stream_open(&first, board, "night-1", 1, NULL, false, &err), ANSWER_OK);
    stream_close(first);
    static const char *const positions[] = {NULL, "0"};
    for (size_t i = 0; i < sizeof positions / sizeof positions[0]; i++) {
        struct stream *stream = NULL;
        enum answer answer = ANSWER_FAILED;
        int failed = 0;
        for (int n = 0; answer != ANSWER_OK && n < 20; n++) {
            struct error why = {0};
            until_none = n;
            answer = stream_open(&stream, board, "night-1", 1, positions[i], false, &why);
            until_none = -1;
            if (answer != ANSWER_OK) {
                failed++;
                assert_int_equal(answer, ANSWER_FAILED);
                assert_string_equal(why.text, "out of memory");
                assert_null(stream);
            }
        }
        assert_int_equal(answer, ANSWER_OK);
        assert_int_equal(failed, 2 + 2 * i); /* stream, text; with a position two more */
        char text[64] = "";
        assert_true(stream_read(stream, text, sizeof text - 1) > 0);
        assert_memory_equal(text, "retry: ", 7);
        stream_close(stream);
    }
    board_stop(board);
    board_close(board);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test_setup_teardown(stream_open__no_memory__says_so_and_goes_on, place_set_up,
                                        place_tear_down),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
