/* The terminal taken over, on a pseudo-terminal: what its bytes are as keys, what is swallowed,
 * what painting sends, and that it is given back as it was. */
#include <stdarg.h>
#include <stddef.h>
#include <setjmp.h>
#include <stdint.h>
#include <cmocka.h>

#include "pty.h"
#include "ringtally/desk/keymap.h"
#include "ringtally/screen/screen.h"

/* Reports each key, pasted block and size; ends at "." or when asked to. */
static int report_keys(FILE *report)
{
    struct error err = {0};
    int rows = 0, columns = 0;
    if (screen_open(&err)) {
        fprintf(report, "%s\n", err.text);
        return 1;
    }
    screen_size(&rows, &columns);
    fprintf(report, "open %dx%d\n", columns, rows);
    for (;;) {
        struct pollfd waits[] = {{STDIN_FILENO, POLLIN, 0}, {screen_signal_fd(), POLLIN, 0}};
        int now_rows = 0, now_columns = 0;
        int32_t key = KEY_OF_NONE;
        size_t pasted = 0;
        poll(waits, 2, screen_timeout());
        screen_drain();
        if (screen_hangup()) {
            break;
        }
        screen_size(&now_rows, &now_columns);
        if (now_rows != rows || now_columns != columns) {
            rows = now_rows;
            columns = now_columns;
            fprintf(report, "size %dx%d\n", columns, rows);
        }
        while ((key = screen_key(&pasted)) != KEY_OF_NONE || pasted) {
            char word[16];
            if (key == '.') {
                screen_close();
                return 0;
            }
            if (pasted) {
                fprintf(report, "pasted %zu\n", pasted);
            } else {
                fprintf(report, "%s\n", key_word(word, key));
            }
        }
    }
    screen_close();
    fprintf(report, "hung up\n");
    return 0;
}

static void screen_key__bytes__are_keys(void **state)
{
    (void)state;
    static const struct {
        const char *bytes, *keys[4];
    } cases[] = {
        {"q", {"q"}},
        {"Q:?", {"Q", ":", "?"}},
        {" ", {"Space"}},
        {"\r", {"Enter"}},
        {"\n", {"Enter"}},
        {"\033OM", {"Enter"}},
        {"\x7f", {"Backspace"}},
        {"\b", {"Backspace"}},
        {"\t", {"Tab"}},
        {"\033[Zq", {"BackTab", "q"}},
        {"\033[H\033[4~\033[5~\033[6~", {"Home", "End", "PageUp", "PageDown"}},
        {"\033[1;2A\033[1;2D", {"ShiftUp", "ShiftLeft"}},
        {"\033OA\033OB", {"Up", "Down"}},
        {"\033[D\033[C", {"Left", "Right"}},
        {"\033[3~\033[2~", {"Delete", "Insert"}},
        {"\033OP\033[[A\033[11~", {"F1", "F1", "F1"}},
        {"\033[21~\033[24~", {"F10", "F12"}},
        {"\xc3\xa9", {"\xc3\xa9"}},
        {"\xe9\xb5\x9c", {"\xe9\xb5\x9c"}},
        {"\033Oq\033Ow\033Or", {"1", "7", "2"}},
        {"\033", {"Esc"}},
        {"\033q", {"Esc", "q"}},
        /* Dead: Ctrl-C, Ctrl-Z, Ctrl-S, Ctrl-Q, Ctrl-\, Ctrl-D, NUL is none. */
        {"\x03\x1a\x13\x11\x1c\x04w", {"w"}},
        /* Bytes that are no UTF-8 are no key. */
        {"\xff\xfe\xc3w", {"w"}},
        /* Sequences that no description knows are swallowed whole: no strike, no prompt. */
        {"\033[1;9Zw", {"w"}},
        {"\033[97;5uw", {"w"}},
        {"\033[Iw", {"w"}},
        {"\033Ozw", {"w"}},
        {"\033]11;rgb:0000/0000/0000\aw", {"w"}},
        {"\033]11;rgb:0000/0000/0000\033\\w", {"w"}},
        {"\033[200~qwer\rA\xc3\xa9\033[A\033[201~w", {"pasted 8", "w"}},
        {"\033[200~\033[201~w", {"w"}},
    };
    struct pty pty;
    pty_open(&pty, "xterm-256color", report_keys);
    pty_expect(&pty, "open 80x24");
    for (size_t i = 0; i < sizeof cases / sizeof *cases; i++) {
        pty_type(&pty, cases[i].bytes);
        for (int key = 0; key < 4 && cases[i].keys[key]; key++) {
            pty_expect(&pty, cases[i].keys[key]);
        }
    }
    pty_type(&pty, ".");
    assert_int_equal(pty_close(&pty), 0);
}

static void screen_key__every_terminal__knows_the_keys(void **state)
{
    (void)state;
    static const char *const terms[] = {"tmux-256color", "screen", "linux", "vt100"};
    for (size_t i = 0; i < sizeof terms / sizeof *terms; i++) {
        struct pty pty;
        pty_open(&pty, terms[i], report_keys);
        pty_expect(&pty, "open 80x24");
        pty_type(&pty, "q\r\x7f\t\033[A\033OB\033OP");
        static const char *const keys[] = {"q", "Enter", "Backspace", "Tab", "Up", "Down", "F1"};
        for (size_t key = 0; key < sizeof keys / sizeof *keys; key++) {
            pty_expect(&pty, keys[key]);
        }
        pty_type(&pty, ".");
        assert_int_equal(pty_close(&pty), 0);
        /* A terminal that may take the request for text is not asked for brackets. */
        assert_true(!strstr(pty.seen, "?2004h") == (i >= 2));
    }
}

static void screen_key__pasted_block_without_end__is_given_up(void **state)
{
    (void)state;
    struct pty pty;
    pty_open(&pty, "xterm-256color", report_keys);
    pty_expect(&pty, "open 80x24");
    pty_type(&pty, "\033[200~qwer");
    pty_expect(&pty, "pasted 4");
    pty_type(&pty, "t");
    pty_expect(&pty, "t");
    pty_type(&pty, ".");
    assert_int_equal(pty_close(&pty), 0);
}

static void screen_size__many_resizes__none_missed(void **state)
{
    (void)state;
    struct pty pty;
    char expected[64];
    pty_open(&pty, "xterm-256color", report_keys);
    pty_expect(&pty, "open 80x24");
    for (int i = 1; i <= 200; i++) {
        int rows = 20 + i % 41;
        int columns = 70 + i % 131;
        pty_resize(&pty, rows, columns);
        snprintf(expected, sizeof expected, "size %dx%d", columns, rows);
        pty_expect(&pty, expected);
    }
    pty_type(&pty, ".");
    assert_int_equal(pty_close(&pty), 0);
}

static void screen_close__after_signal__gives_the_terminal_back(void **state)
{
    (void)state;
    static const int signals[] = {SIGTERM, SIGHUP, SIGINT};
    for (size_t i = 0; i < sizeof signals / sizeof *signals; i++) {
        struct pty pty;
        struct termios during, after;
        pty_open(&pty, "xterm-256color", report_keys);
        pty_expect(&pty, "open 80x24");
        assert_int_equal(tcgetattr(pty.slave, &during), 0);
        assert_false(during.c_lflag & (ISIG | ICANON | ECHO));
        assert_false(during.c_iflag & IXON);
        kill(pty.pid, SIGTSTP); /* a live desk is not stopped */
        kill(pty.pid, signals[i]);
        pty_expect(&pty, "hung up");
        assert_int_equal(tcgetattr(pty.slave, &after), 0);
        assert_true(after.c_lflag & ISIG && after.c_lflag & ICANON && after.c_lflag & ECHO);
        pty_wait_seen(&pty, "\033[?2004l");
        pty_wait_seen(&pty, "\033[?1049l");
        assert_int_equal(pty_close(&pty), 0);
    }
}

static int leave_by_exit(FILE *report)
{
    struct error err = {0};
    if (screen_open(&err)) {
        return 1;
    }
    fprintf(report, "open\n");
    fflush(report);
    exit(3);
}

static void screen_close__fatal_path__runs_at_exit(void **state)
{
    (void)state;
    struct pty pty;
    pty_open(&pty, "xterm-256color", leave_by_exit);
    pty_expect(&pty, "open");
    pty_wait_seen(&pty, "\033[?1049l");
    assert_int_equal(pty_close(&pty), 3);
}

static int report_failure(FILE *report)
{
    struct error err = {0};
    if (getenv("NO_STDIN")) {
        close(STDIN_FILENO);
        open("/dev/null", O_RDONLY);
    }
    fprintf(report, "%d %s\n", screen_open(&err), err.text);
    screen_close();
    return 0;
}

static void screen_open__no_terminal__one_line(void **state)
{
    (void)state;
    struct pty pty;
    setenv("NO_STDIN", "1", 1);
    pty_open(&pty, "xterm-256color", report_failure);
    pty_expect(&pty, "-1 no terminal: the console needs one to show and read");
    assert_int_equal(pty_close(&pty), 0);
    unsetenv("NO_STDIN");
    pty_open(&pty, "no-such-terminal", report_failure);
    pty_expect(&pty, "-1 the terminal type 'no-such-terminal' is not known (TERM)");
    assert_int_equal(pty_close(&pty), 0);
    pty_open(&pty, "dumb", report_failure);
    pty_expect(&pty, "-1 the terminal type 'dumb' cannot move the cursor: set TERM to what this "
                     "terminal is, for example xterm-256color");
    assert_int_equal(pty_close(&pty), 0);
}

#define MARK "\001END\001"

static void paint_and_mark(const struct frame *frame)
{
    screen_paint(frame);
    if (write(STDOUT_FILENO, MARK, sizeof MARK - 1) < 0) {
        _exit(9);
    }
}

static int paint_frames(FILE *report)
{
    struct error err = {0};
    struct frame frame;
    if (screen_open(&err) || frame_init(&frame, 24, 80, false, &err)) {
        return 1;
    }
    frame_put(&frame, 0, 0, 0, STYLE_RED_STRONG, "RED \u9d5c\u4e45\u68ee e\u0301");
    frame_put(&frame, 12, 0, 0, STYLE_PLAIN, "0123456789");
    paint_and_mark(&frame);
    paint_and_mark(&frame);
    frame_put(&frame, 12, 4, 0, STYLE_PLAIN, "x");
    paint_and_mark(&frame);
    frame_put(&frame, 0, 6, 0, STYLE_RED_STRONG, "\u6c50");
    paint_and_mark(&frame);
    frame_put(&frame, 0, 5, 0, STYLE_RED_STRONG, "ab");
    paint_and_mark(&frame);
    frame_release(&frame);
    screen_close();
    fprintf(report, "done\n");
    return 0;
}

/* What came before the next mark. */
static size_t until_mark(struct pty *pty, char *out, size_t size)
{
    pty_wait_seen(pty, MARK);
    char *mark = strstr(pty->seen, MARK);
    size_t count = (size_t)(mark - pty->seen);
    snprintf(out, size, "%.*s", (int)count, pty->seen);
    size_t used = count + sizeof MARK - 1;
    memmove(pty->seen, pty->seen + used, pty->seen_size - used + 1);
    pty->seen_size -= used;
    return count;
}

static void screen_paint__frames__only_what_changed_is_sent(void **state)
{
    (void)state;
    struct pty pty;
    char got[8192];
    pty_open(&pty, "xterm-256color", paint_frames);
    until_mark(&pty, got, sizeof got);
    assert_non_null(strstr(got, "RED \u9d5c\u4e45\u68ee e\u0301"));
    assert_int_equal(until_mark(&pty, got, sizeof got), 0);
    assert_in_range(until_mark(&pty, got, sizeof got), 1, 12);
    assert_non_null(strchr(got, 'x'));
    assert_in_range(until_mark(&pty, got, sizeof got), 3, 60);
    assert_non_null(strstr(got, "\u6c50"));
    assert_in_range(until_mark(&pty, got, sizeof got), 2, 60);
    assert_non_null(strstr(got, "ab"));
    pty_expect(&pty, "done");
    assert_int_equal(pty_close(&pty), 0);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(screen_key__bytes__are_keys),
        cmocka_unit_test(screen_key__every_terminal__knows_the_keys),
        cmocka_unit_test(screen_key__pasted_block_without_end__is_given_up),
        cmocka_unit_test(screen_size__many_resizes__none_missed),
        cmocka_unit_test(screen_close__after_signal__gives_the_terminal_back),
        cmocka_unit_test(screen_close__fatal_path__runs_at_exit),
        cmocka_unit_test(screen_open__no_terminal__one_line),
        cmocka_unit_test(screen_paint__frames__only_what_changed_is_sent),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
