/* screen.c: takes the terminal over and gives it back; signals; size. */
#include "ringtally/screen/screen.h"

#include <errno.h>
#include <fcntl.h>
#include <langinfo.h>
#include <locale.h>
#include <signal.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/ioctl.h>
#include <unistd.h>

#include "screen/terminal.h"

#define ESC_MS 50 /* a sequence's bytes come within this time, also on a slow line */

/* One terminal at a time, and signal handlers can reach no other place. */
static SCREEN *terminal;
static int self_pipe[2] = {-1, -1};
static volatile sig_atomic_t resized, hangup;

/* All that would end the process without a fault of its own. */
static const int caught[] = {SIGWINCH, SIGTERM, SIGHUP,    SIGINT,  SIGQUIT, SIGTSTP, SIGUSR1,
                             SIGUSR2,  SIGALRM, SIGVTALRM, SIGPROF, SIGPOLL, SIGXCPU};
#define CAUGHT ((int)(sizeof caught / sizeof *caught))

static void on_signal(int number)
{
    int saved = errno;
    if (number == SIGWINCH) {
        resized = 1;
    } else if (number != SIGTSTP) { /* a live desk is not stopped */
        hangup = 1;
    }
    ssize_t ignored = write(self_pipe[1], "s", 1); /* a full pipe wakes as well */
    (void)ignored;
    errno = saved;
}

/* Never closed again: signals and the writer thread know its number, and write to it while the
 * session is left, when the number could be another file's. */
static int open_pipe(struct error *err)
{
    if (self_pipe[0] >= 0) {
        return 0;
    }
    if (pipe(self_pipe)) {
        self_pipe[0] = self_pipe[1] = -1;
        return error_set(err, ERROR_FAILED, "cannot make a pipe: %s", strerror(errno));
    }
    for (int i = 0; i < 2; i++) {
        if (fcntl(self_pipe[i], F_SETFL, O_NONBLOCK) || fcntl(self_pipe[i], F_SETFD, FD_CLOEXEC)) {
            return error_set(err, ERROR_FAILED, "cannot set up a pipe: %s", strerror(errno));
        }
    }
    return 0;
}

/* Before ncurses looks: it leaves signals alone that have a handler. */
int screen_catch_signals(struct error *err)
{
    struct sigaction action = {.sa_handler = on_signal, .sa_flags = SA_RESTART};
    int code = open_pipe(err);
    sigemptyset(&action.sa_mask);
    for (int i = 0; i < CAUGHT && !code; i++) {
        if (sigaction(caught[i], &action, NULL)) {
            code = error_set(err, ERROR_FAILED, "signals: %s", strerror(errno));
        }
    }
    return code;
}

/* Terminals that understand private modes; for others such a request might be text. */
static bool knows_modes(void)
{
    static const char *const able[] = {"xterm", "tmux",    "screen",    "rxvt",
                                       "foot",  "vte",     "alacritty", "konsole",
                                       "kitty", "wezterm", "ghostty",   "contour"};
    const char *term = getenv("TERM");
    for (size_t i = 0; term && i < sizeof able / sizeof *able; i++) {
        if (strncmp(term, able[i], strlen(able[i])) == 0) {
            return true;
        }
    }
    return false;
}

/* Pasted blocks come between marks; and the wheel sends no cursor keys (alternate scroll, which is
 * saved before and restored after). */
static void ask_for_modes(bool on)
{
    const char *brackets = tigetstr(on ? "BE" : "BD");
    if (brackets && brackets != (char *)-1) {
        putp(brackets);
    } else if (knows_modes()) {
        putp(on ? "\033[?2004h" : "\033[?2004l");
    }
    if (knows_modes()) {
        putp(on ? "\033[?1007s\033[?1007l" : "\033[?1007r");
    }
    fflush(stdout);
}

int screen_open(struct error *err)
{
    static bool at_exit;
    const char *term = getenv("TERM");
    int code = 0;
    if (!isatty(STDIN_FILENO) || !isatty(STDOUT_FILENO)) {
        return error_set(err, ERROR_FAILED, "no terminal: the console needs one to show and read");
    }
    if (!term || strcmp(term, "dumb") == 0 || term[0] == '\0') {
        return error_set(err, ERROR_FAILED,
                         "the terminal type '%s' cannot move the cursor: set TERM to what this "
                         "terminal is, for example xterm-256color",
                         term ? term : "");
    }
    if (!at_exit && atexit(screen_close)) {
        return error_memory(err);
    }
    at_exit = true;
    setlocale(LC_CTYPE, "");
    resized = 0;
    code = screen_catch_signals(err);
    if (code) {
        goto failed;
    }
    set_escdelay(ESC_MS);
    warden_look();
    terminal = newterm(NULL, stdout, stdin);
    if (!terminal) {
        code = error_set(err, ERROR_FAILED, "the terminal type '%s' is not known (TERM)",
                         term ? term : "");
        goto failed;
    }
    raw();
    noecho();
    nonl();
    if (!input_open()) {
        code = error_memory(err);
        goto failed;
    }
    paint_open();
    ask_for_modes(true);
    keyboard_open(knows_modes());
    return 0;

failed:
    screen_close();
    return code;
}

void screen_close(void)
{
    if (terminal) {
        keyboard_close();
        input_settle();
        ask_for_modes(false);
        input_close();
        paint_close();
        endwin();
        delscreen(terminal);
        terminal = NULL;
    }
}

int screen_signal_fd(void)
{
    return self_pipe[0];
}

int screen_wake_fd(void)
{
    return self_pipe[1];
}

void screen_drain(void)
{
    char bytes[256];
    while (read(self_pipe[0], bytes, sizeof bytes) > 0) {
    }
}

void screen_bell(void)
{
    beep();
}

bool screen_hangup(void)
{
    return hangup;
}

void screen_size(int *rows, int *columns)
{
    if (resized) {
        struct winsize size = {0};
        resized = 0;
        if (ioctl(STDOUT_FILENO, TIOCGWINSZ, &size) == 0 && size.ws_row > 0 && size.ws_col > 0) {
            resizeterm(size.ws_row, size.ws_col);
            paint_forget();
        }
    }
    getmaxyx(stdscr, *rows, *columns);
}

bool screen_is_ascii(void)
{
    return strcmp(nl_langinfo(CODESET), "UTF-8") != 0;
}
