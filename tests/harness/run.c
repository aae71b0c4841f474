/* run.c: programs without a terminal. */
#include "run.h"

#include <errno.h>
#include <fcntl.h>
#include <ftw.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/wait.h>
#include <unistd.h>

#include "base.h"

void run(struct run *out, const char *home, const char *const *argv)
{
    char home_is[512];
    const char *env[16] = {"LC_ALL=C.UTF-8", "TZ=UTC", "TERM=xterm-256color", home_is};
    int count = 4;
    int ends[2] = {-1, -1};

    snprintf(home_is, sizeof home_is, "HOME=%s", home);
    for (int i = 0; harness_sanitizers[i] != NULL; i++) {
        env[count++] = harness_sanitizers[i];
    }
    if (pipe(ends) != 0) {
        harness_die("pipe");
    }
    pid_t pid = fork();
    if (pid < 0) {
        harness_die("fork");
    }
    if (pid == 0) {
        int null = open("/dev/null", O_RDONLY);
        if (null < 0 || setsid() < 0 || chdir(home) != 0 || dup2(null, STDIN_FILENO) < 0 ||
            dup2(ends[1], STDOUT_FILENO) < 0 || dup2(ends[1], STDERR_FILENO) < 0) {
            _exit(126);
        }
        close(ends[0]);
        close(ends[1]);
        close(null);
        execve(argv[0], (char *const *)argv, (char *const *)env);
        dprintf(STDERR_FILENO, "%s: %s\n", argv[0], strerror(errno));
        _exit(127);
    }
    close(ends[1]);
    size_t used = 0;
    for (;;) {
        char rest[4096];
        size_t room = sizeof out->out - 1 - used;
        ssize_t got =
            read(ends[0], room > 0 ? out->out + used : rest, room > 0 ? room : sizeof rest);
        if (got == 0) {
            break;
        }
        if (got < 0 && errno != EINTR) {
            harness_die("read");
        }
        if (got > 0 && room > 0) {
            used += (size_t)got;
        }
    }
    out->out[used] = '\0';
    close(ends[0]);
    int status = 0;
    while (waitpid(pid, &status, 0) != pid) {
        if (errno != EINTR) {
            harness_die("waitpid");
        }
    }
    out->status = WIFSIGNALED(status) ? 128 + WTERMSIG(status) : WEXITSTATUS(status);
}

void scratch_new(char *out, size_t size)
{
    const char *base = getenv("TMPDIR");
    int length = snprintf(out, size, "%s/ringtally-XXXXXX", base != NULL ? base : "/tmp");
    if (length < 0 || (size_t)length >= size || mkdtemp(out) == NULL) {
        harness_die("scratch folder");
    }
}

static int remove_one(const char *path, const struct stat *stat, int type, struct FTW *at)
{
    (void)stat;
    (void)type;
    (void)at;
    return remove(path) != 0 && errno != ENOENT ? -1 : 0; /* a program may still clean up itself */
}

void scratch_remove(const char *path)
{
    if (nftw(path, remove_one, 8, FTW_DEPTH | FTW_PHYS) != 0) {
        harness_die(path);
    }
}
