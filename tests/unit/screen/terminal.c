/* The terminal taken over, on a pseudo-terminal: what its bytes are as keys, what is swallowed,
 * what painting sends, and that it is given back as it was. */
#include <stdarg.h>
#include <stddef.h>
#include <setjmp.h>
#include <stdint.h>
#include <cmocka.h>

#include <sys/stat.h>

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
            static const char *const presses[] = {"", " pressed", " held"};
            if (pasted) {
                fprintf(report, "pasted %zu\n", pasted);
            } else {
                fprintf(report, "%s%s\n", key_word(word, key), presses[screen_press()]);
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

/* A terminal that can tell presses from repeats, and one key after the other as it says them. */
static void screen_key__events__are_keys_and_presses(void **state)
{
    (void)state;
    static const struct {
        const char *bytes, *keys[4];
    } cases[] = {
        /* Nothing is proven before the first release. */
        {"\033[113;;113u", {"q"}},
        {"\033[113;1:2;113u", {"q held"}},
        {"\033[113;1:3u\033[113;;113u\033[113;1:3u", {"q pressed"}},
        {"\033[113;;113u\033[113;1:3u\033[113;;113u", {"q pressed", "q pressed"}},
        {"\033[113;;113u", {"q"}}, /* its release was missed: by its timing */
        {"\033[113;1:3u", {NULL}},
        /* Shift: by the text, by the alternate, by nothing at all. */
        {"\033[57441;2u\033[113:81;2;81u\033[113;2:3u\033[57441;1:3u", {"Q pressed"}},
        {"\033[59:58;2u\033[59;2:3u", {": pressed"}},
        {"\033[119;2u\033[119;1:3u", {"W pressed"}},
        {"\033[113;65;81u\033[113;65:3u", {"q pressed"}}, /* Caps Lock lands nothing */
        {"\033[113;66;113u\033[113;66:3u", {"Q pressed"}},
        {"\033[59;65;59u\033[59;65:3u\033[59:58;66;58u\033[59;66:3u", {"; pressed", ": pressed"}},
        {"\033[233;65;201u\033[233;65:3u", {"\u00e9 pressed"}},
        {"\033[1094::119;;1094u\033[1094::119;1:3u", {"\u0446 pressed"}},
        {"\033[233;;233u\033[233;1:3u", {"\u00e9 pressed"}},
        {"\033[50;3;126u\033[50;3:3u", {"~ pressed"}}, /* with AltGr */
        {"\033[0;;101:769u", {"e pressed", "\u0301 pressed"}},
        /* The keys that have names. */
        {"\033[13u\033[13;1:3u\033[57414u\033[57414;1:3u", {"Enter pressed", "Enter pressed"}},
        {"\033[127u\033[127;1:2u\033[127;1:3u", {"Backspace pressed", "Backspace held"}},
        {"\033[9u\033[9;1:3u\033[9;2u\033[9;2:3u", {"Tab pressed", "BackTab pressed"}},
        {"\033[27u\033[27;1:3u", {"Esc pressed"}},
        {"\033[32;;32u\033[32;1:3u", {"Space pressed"}},
        {"\033[A\033[1;1:2A\033[1;1:3A\033[1;2B\033[1;2:3B",
         {"Up pressed", "Up held", "ShiftDown pressed"}},
        {"\033[1;129C\033[1;129:3C", {"Right pressed"}}, /* Num Lock is on */
        {"\033[P\033[1;1:3P\033[13~\033[13;1:3~", {"F1 pressed", "F3 pressed"}},
        {"\033[21~\033[21;1:2~\033[21;1:3~\033[24;1:1~\033[24;1:3~",
         {"F10 pressed", "F10 held", "F12 pressed"}},
        {"\033[3~\033[3;1:3~\033[5;1:1~\033[5;1:3~", {"Delete pressed", "PageUp pressed"}},
        /* The keypad, with Num Lock and without. */
        {"\033[57400;129;49u\033[57400;129:3u\033[57413;;43u\033[57413;1:3u",
         {"1 pressed", "+ pressed"}},
        {"\033[57401u\033[57401;1:3u\033[57417u\033[57417;1:3u", {"2 pressed", "Left pressed"}},
        /* Dead: Control, and what belongs to the desktop; a pad key with Alt is one all the same.
         */
        {"\033[99;5u\033[99;5:3u\033[122;5u\033[122;5:3u\033[113;9;113u\033[113;9:3uw", {"w"}},
        {"\033[113;3u\033[113;3:3u", {"q pressed"}},
        {"\033[57358u\033[57358;1:3u\033[57376u\033[1;5A\033[1;5:3Aw", {"w"}},
        /* What is no sequence of ours; and plain bytes, which such a terminal does not send. */
        {"\033[99999999;;1u\033[113;=;3u\033[;;uw", {"w"}},
        {"\033[200~q\033[201~w", {"pasted 1", "w"}},
        {"\033[119;;119u\033[119;1:3ue", {"w pressed", "e"}},
    };
    struct pty pty;
    pty_open(&pty, "xterm-256color", report_keys);
    pty_expect(&pty, "open 80x24");
    pty_wait_seen(&pty, "\033[?u\033[c");
    pty_type(&pty, "w"); /* before the answer: as ever */
    pty_expect(&pty, "w");
    assert_null(strstr(pty.seen, "\033[>31u"));
    pty_type(&pty, "\033[?0u\033[?62;4c");
    pty_wait_seen(&pty, "\033[>31u");
    for (size_t i = 0; i < sizeof cases / sizeof *cases; i++) {
        pty_type(&pty, cases[i].bytes);
        for (int key = 0; key < 4 && cases[i].keys[key]; key++) {
            pty_expect(&pty, cases[i].keys[key]);
        }
    }
    assert_null(strstr(pty.seen, "\033[<u"));
    pty_type(&pty, "\033[46;;46u"); /* a point */
    pty_wait_seen(&pty, "\033[<u");
    pty_wait_seen(&pty, "\033[?1049l");
    assert_true(strstr(pty.seen, "\033[<u") < strstr(pty.seen, "\033[?1049l"));
    assert_int_equal(pty_close(&pty), 0);
}

/* Where keys are sequences, a slow line does not make an Esc and a letter of one. */
static void screen_key__events_on_a_slow_line__stay_whole(void **state)
{
    (void)state;
    static const char *const pieces[] = {"\033", "[11", "3;", ";113", "u\033[113;1:3", "u"};
    struct pty pty;
    pty_open(&pty, "xterm-256color", report_keys);
    pty_expect(&pty, "open 80x24");
    pty_type(&pty, "\033[?0u\033[?62;4c\033[119;;119u\033[119;1:3u");
    pty_expect(&pty, "w");
    for (size_t i = 0; i < sizeof pieces / sizeof *pieces; i++) {
        pty_type(&pty, pieces[i]);
        pty_quiet(&pty, 90);
    }
    pty_expect(&pty, "q pressed");
    pty_type(&pty, "\033[46;;46u");
    assert_int_equal(pty_close(&pty), 0);
}

/* What was asked is answered when the program has been left already: the shell must not get it. */
static void screen_close__answers_under_way__are_waited_for(void **state)
{
    (void)state;
    struct pty pty;
    int left = -1;
    pty_open(&pty, "xterm-256color", report_keys);
    pty_expect(&pty, "open 80x24");
    pty_type(&pty, ".");
    pty_quiet(&pty, 40);
    pty_type(&pty, "\033[?0u\033[?62;4c");
    pty_wait_seen(&pty, "\033[?1049l");
    assert_int_equal(ioctl(pty.slave, FIONREAD, &left), 0);
    assert_int_equal(left, 0);
    assert_null(strstr(pty.seen, "\033[>31u")); /* it is left: nothing is taken any more */
    assert_int_equal(pty_close(&pty), 0);
}

/* As a shell does: it outlives what runs in its terminal, and reads on when that has ended. */
static int report_keys_under_a_shell(FILE *report)
{
    char byte = 0;
    pid_t pid = fork();
    if (pid == 0) {
        _exit(report_keys(report));
    }
    fprintf(report, "%d\n", (int)pid);
    while (waitpid(pid, NULL, 0) < 0) {
    }
    fprintf(report, "ended\n");
    return read(STDIN_FILENO, &byte, 1) == 1 && byte == 'w' ? 0 : 1;
}

/* Killed, it gives the terminal back all the same: else nobody could type a command in it. */
static void screen_close__killed__a_warden_gives_the_terminal_back(void **state)
{
    (void)state;
    struct pty pty;
    struct termios before, after;
    pty_open(&pty, "xterm-256color", report_keys_under_a_shell);
    assert_int_equal(tcgetattr(pty.slave, &before), 0);
    pid_t pid = pty_number(&pty);
    pty_expect(&pty, "open 80x24");
    pty_type(&pty, "\033[?0u\033[?62;4cw");
    pty_expect(&pty, "w");
    pty_wait_seen(&pty, "\033[>31u");
    kill(pid, SIGKILL);
    pty_expect(&pty, "ended");
    pty_wait_seen(&pty, "\033[<u");
    pty_wait_seen(&pty, "\033[?1049l");
    do {
        assert_int_equal(tcgetattr(pty.slave, &after), 0);
        pty_pump(&pty, 5);
    } while (!(after.c_lflag & ICANON));
    assert_int_equal(after.c_lflag, before.c_lflag);
    pty_type(&pty, "w\n");
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
        assert_true(!strstr(pty.seen, "[?u") == (i >= 2));
        assert_null(strstr(pty.seen, "[>31u")); /* none of them has answered */
        assert_null(strstr(pty.seen, "[<u"));
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

/* What the writer thread wakes, it may wake until the end: the number must not become another
 * file's. And who is told to end twice ends in order all the same. */
static int report_what_stays(FILE *report)
{
    struct error err = {0};
    struct stat info = {0};
    if (screen_open(&err)) {
        return 1;
    }
    int wake = screen_wake_fd();
    screen_close();
    int other = open("/dev/null", O_RDWR);
    raise(SIGTERM);
    raise(SIGHUP);
    raise(SIGQUIT);
    fprintf(report, "%d %d %d\n", fstat(wake, &info) == 0 && S_ISFIFO(info.st_mode), wake != other,
            screen_hangup());
    return 0;
}

static void screen_close__afterwards__signals_and_pipe_stay(void **state)
{
    (void)state;
    struct pty pty;
    pty_open(&pty, "xterm-256color", report_what_stays);
    pty_expect(&pty, "1 1 1");
    assert_int_equal(pty_close(&pty), 0);
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
        cmocka_unit_test(screen_key__events__are_keys_and_presses),
        cmocka_unit_test(screen_close__answers_under_way__are_waited_for),
        cmocka_unit_test(screen_key__events_on_a_slow_line__stay_whole),
        cmocka_unit_test(screen_close__killed__a_warden_gives_the_terminal_back),
        cmocka_unit_test(screen_key__every_terminal__knows_the_keys),
        cmocka_unit_test(screen_key__pasted_block_without_end__is_given_up),
        cmocka_unit_test(screen_size__many_resizes__none_missed),
        cmocka_unit_test(screen_close__after_signal__gives_the_terminal_back),
        cmocka_unit_test(screen_close__fatal_path__runs_at_exit),
        cmocka_unit_test(screen_close__afterwards__signals_and_pipe_stay),
        cmocka_unit_test(screen_open__no_terminal__one_line),
        cmocka_unit_test(screen_paint__frames__only_what_changed_is_sent),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
