/* pty.h: a child process that runs a part of the screen on a pseudo-terminal and reports on a pipe.
 * Nothing sleeps: every wait polls until its deadline. Included behind cmocka.h. */
#ifndef PTY_H
#define PTY_H

#include <errno.h>
#include <fcntl.h>
#include <poll.h>
#include <signal.h>
#include <stdbool.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/ioctl.h>
#include <sys/wait.h>
#include <termios.h>
#include <time.h>
#include <unistd.h>

#define DEADLINE_MS 10000

struct pty {
    pid_t pid;
    int master, slave; /* slave stays open here, so that settings can be read at any time */
    int report;        /* what the child says, line by line */
    char line[512];
    size_t line_size;
    char seen[65536]; /* what it wrote to the terminal since pty_forget */
    size_t seen_size;
};

typedef int pty_child(FILE *report);

static inline void pty_resize(struct pty *pty, int rows, int columns)
{
    struct winsize size = {.ws_row = (unsigned short)rows, .ws_col = (unsigned short)columns};
    assert_int_equal(ioctl(pty->master, TIOCSWINSZ, &size), 0);
}

static inline void pty_open(struct pty *pty, const char *term, pty_child *child)
{
    int report[2];
    *pty = (struct pty){.master = posix_openpt(O_RDWR | O_NOCTTY)};
    assert_true(pty->master >= 0);
    assert_int_equal(grantpt(pty->master), 0);
    assert_int_equal(unlockpt(pty->master), 0);
    pty->slave = open(ptsname(pty->master), O_RDWR | O_NOCTTY);
    assert_true(pty->slave >= 0);
    pty_resize(pty, 24, 80);
    assert_int_equal(pipe(report), 0);
    fflush(stdout);
    pty->pid = fork();
    assert_true(pty->pid >= 0);
    if (pty->pid == 0) {
        char name[128];
        snprintf(name, sizeof name, "%s", ptsname(pty->master));
        setenv("TERM", term, 1);
        unsetenv("NO_COLOR");
        setsid();
        int terminal = open(name, O_RDWR); /* the controlling one now */
        for (int i = 0; i < 3; i++) {
            dup2(terminal, i);
        }
        close(pty->master);
        close(pty->slave);
        close(report[0]);
        FILE *out = fdopen(report[1], "w");
        setvbuf(out, NULL, _IOLBF, 0);
        int code = child(out);
        fclose(out);
        _exit(code);
    }
    close(report[1]);
    pty->report = report[0];
}

static inline void pty_type(struct pty *pty, const char *bytes)
{
    assert_int_equal(write(pty->master, bytes, strlen(bytes)), (ssize_t)strlen(bytes));
}

static inline void pty_forget(struct pty *pty)
{
    pty->seen_size = 0;
    pty->seen[0] = '\0';
}

/* Reads what came from the terminal, and what the child reported, waiting for either. False at the
 * deadline. */
static inline bool pty_pump(struct pty *pty, int ms)
{
    struct pollfd waits[] = {{pty->master, POLLIN, 0}, {pty->report, POLLIN, 0}};
    if (poll(waits, 2, ms) <= 0) {
        return false;
    }
    if (waits[0].revents & POLLIN) {
        ssize_t got =
            read(pty->master, pty->seen + pty->seen_size, sizeof pty->seen - 1 - pty->seen_size);
        pty->seen_size += got > 0 ? (size_t)got : 0;
        pty->seen[pty->seen_size] = '\0';
    }
    if (waits[1].revents & (POLLIN | POLLHUP)) {
        ssize_t got =
            read(pty->report, pty->line + pty->line_size, sizeof pty->line - 1 - pty->line_size);
        if (got <= 0) {
            return waits[0].revents & POLLIN;
        }
        pty->line_size += (size_t)got;
    }
    return true;
}

/* Reads for so long whatever comes: for pacing what is typed, never for waiting. */
static inline void pty_quiet(struct pty *pty, int ms)
{
    struct timespec start, now;
    clock_gettime(CLOCK_MONOTONIC, &start);
    do {
        pty_pump(pty, 5);
        clock_gettime(CLOCK_MONOTONIC, &now);
    } while ((now.tv_sec - start.tv_sec) * 1000 + (now.tv_nsec - start.tv_nsec) / 1000000 < ms);
}

/* The next line reported. */
static inline void pty_next(struct pty *pty, char *out, const char *expected)
{
    struct timespec start, now;
    char *end = NULL;
    clock_gettime(CLOCK_MONOTONIC, &start);
    for (;;) {
        pty->line[pty->line_size] = '\0';
        end = strchr(pty->line, '\n');
        if (end) {
            break;
        }
        clock_gettime(CLOCK_MONOTONIC, &now);
        if ((now.tv_sec - start.tv_sec) * 1000 > DEADLINE_MS || !pty_pump(pty, DEADLINE_MS)) {
            fail_msg("expected \"%s\", nothing came; the terminal got \"%s\"", expected, pty->seen);
        }
    }
    *end = '\0';
    strcpy(out, pty->line);
    size_t used = (size_t)(end + 1 - pty->line);
    memmove(pty->line, end + 1, pty->line_size - used);
    pty->line_size -= used;
}

/* The next line reported must be this. */
static inline void pty_expect(struct pty *pty, const char *expected)
{
    char line[sizeof pty->line];
    pty_next(pty, line, expected);
    if (strcmp(line, expected) != 0) {
        fail_msg("expected \"%s\", got \"%s\"", expected, line);
    }
}

/* The next line reported is a number. */
static inline int pty_number(struct pty *pty)
{
    char line[sizeof pty->line];
    pty_next(pty, line, "a number");
    return atoi(line);
}

/* Until the terminal has got this text. */
static inline void pty_wait_seen(struct pty *pty, const char *text)
{
    while (!strstr(pty->seen, text)) {
        if (!pty_pump(pty, DEADLINE_MS)) {
            fail_msg("the terminal never got \"%s\" but \"%s\"", text, pty->seen);
        }
    }
}

static inline int pty_close(struct pty *pty)
{
    int status = 0;
    while (pty_pump(pty, 0)) {
    }
    close(pty->slave);
    pid_t ended = 0;
    while ((ended = waitpid(pty->pid, &status, WNOHANG)) == 0) {
        pty_pump(pty, 10); /* else it might wait for the terminal to take its last words */
    }
    close(pty->master);
    close(pty->report);
    assert_int_equal(ended, pty->pid);
    return WIFEXITED(status) ? WEXITSTATUS(status) : 128 + WTERMSIG(status);
}

#endif
