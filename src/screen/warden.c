/* warden.c: gives the terminal back where this program is killed.
 *
 * In a terminal whose keys were asked for as sequences nobody could type a command after a kill -9.
 * So a process of its own waits at a pipe: when that ends without a word, it says what has to be
 * said to the terminal. It runs beside threads, so it calls nothing that is not safe in a signal
 * handler.
 */
#include <errno.h>
#include <signal.h>
#include <string.h>
#include <sys/wait.h>
#include <termios.h>
#include <unistd.h>

#include "screen/terminal.h"

#define MOST_FILES 1024

static int leash = -1; /* the writing end: a byte says that all is well */
static pid_t warden;
static struct termios former; /* the terminal's settings before it was taken over */
static bool knows_former;

void warden_look(void)
{
    knows_former = tcgetattr(STDIN_FILENO, &former) == 0;
}

static void say(const char *text, size_t size)
{
    ssize_t wrote = write(STDOUT_FILENO, text, size);
    (void)wrote; /* the terminal may be gone as well */
}

static void watch(int pipe_end, const char *words, size_t size)
{
    static const char leave[] = "\033[?2004l\033[?1007r\033[?1049l\033[?25h\033[0m\r\n";
    static const int calm[] = {SIGTERM, SIGHUP, SIGINT, SIGQUIT, SIGTSTP, SIGTTOU, SIGPIPE};
    char byte = 0;
    ssize_t got = 0;
    for (size_t i = 0; i < sizeof calm / sizeof *calm; i++) {
        signal(calm[i], SIG_IGN);
    }
    for (int fd = STDERR_FILENO + 1; fd < MOST_FILES; fd++) { /* no lock, no file is kept alive */
        if (fd != pipe_end) {
            close(fd);
        }
    }
    do {
        got = read(pipe_end, &byte, 1);
    } while (got < 0 && errno == EINTR);
    if (got <= 0) {
        say(words, size);
        say(leave, sizeof leave - 1);
        if (knows_former) {
            tcsetattr(STDIN_FILENO, TCSANOW, &former);
        }
    }
    _exit(0);
}

bool warden_set(const char *words)
{
    int ends[2];
    if (leash >= 0) {
        return true;
    }
    if (pipe(ends)) {
        return false;
    }
    warden = fork();
    if (warden == 0) {
        close(ends[1]);
        watch(ends[0], words, strlen(words));
    }
    close(ends[0]);
    if (warden < 0) {
        close(ends[1]);
        return false;
    }
    leash = ends[1];
    return true;
}

void warden_dismiss(void)
{
    if (leash < 0) {
        return;
    }
    ssize_t wrote = write(leash, "", 1);
    (void)wrote; /* it is gone: then nobody speaks out of turn */
    close(leash);
    leash = -1;
    while (waitpid(warden, NULL, 0) < 0 && errno == EINTR) {
    }
}
