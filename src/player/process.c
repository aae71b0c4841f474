/* process.c: starts and ends the player's process. */
#include "player/process.h"

#include <errno.h>
#include <fcntl.h>
#include <poll.h>
#include <signal.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/socket.h>
#include <sys/stat.h>
#include <sys/wait.h>
#include <unistd.h>

#define WORDS_MAX  48
#define END_MS     1000 /* that it may take to end by itself */
#define LOOK_MS    10
#define UNPLAYABLE 2 /* mpv(1), exit codes */

/* No configuration, keys or scripts of anybody's: what the console says is all that it does. */
static const char *const fixed_words[] = {
    "--no-config",
    "--no-terminal",
    "--input-default-bindings=no",
    "--osc=no",
    "--input-vo-keyboard=no",
    "--input-media-keys=no",
    "--input-cursor=no",
    "--load-scripts=no",
    "--ytdl=no",
    "--osd-level=0",
    "--keep-open=yes",
    "--hr-seek=yes",
    "--hr-seek-framedrop=no",
    "--audio-display=no",
    "--pause",
};

static int make_folder(struct process *process, struct error *err)
{
    const char *tried[] = {getenv("XDG_RUNTIME_DIR"), getenv("TMPDIR"), "/tmp"};
    for (size_t i = 0; i < sizeof tried / sizeof *tried; i++) {
        if (!tried[i] || tried[i][0] != '/' || strlen(tried[i]) > 40) {
            continue; /* a socket's name must be short */
        }
        snprintf(process->folder, sizeof process->folder, "%s/ringtally-XXXXXX", tried[i]);
        if (mkdtemp(process->folder)) { /* mode 0700 */
            snprintf(process->socket, sizeof process->socket, "%s/player", process->folder);
            return 0;
        }
    }
    int why = errno;
    process->folder[0] = '\0';
    return error_set(err, ERROR_FAILED, "no folder for the player's socket: %s", strerror(why));
}

/* The child: nothing but what may be called between fork and exec. */
static void become(char *const *words, int lifeline, int report)
{
    static const int signals[] = {SIGPIPE, SIGINT, SIGTERM, SIGHUP, SIGTSTP, SIGWINCH, SIGQUIT};
    sigset_t none;
    int null = open("/dev/null", O_RDWR);
    setsid(); /* the terminal's keys are the console's */
    for (size_t i = 0; i < sizeof signals / sizeof *signals; i++) {
        signal(signals[i], SIG_DFL);
    }
    sigemptyset(&none);
    sigprocmask(SIG_SETMASK, &none, NULL);
    if (null >= 0) {
        dup2(null, STDIN_FILENO);
        dup2(null, STDOUT_FILENO);
        dup2(null, STDERR_FILENO);
    }
    fcntl(lifeline, F_SETFD, 0);
    execvp(words[0], words);
    int why = errno;
    ssize_t wrote = write(report, &why, sizeof why);
    _exit(wrote < 0 ? 126 : 127);
}

/* Why exec failed, or 0. */
static int exec_failure(int report)
{
    int why = 0;
    ssize_t got = -1;
    do {
        got = read(report, &why, sizeof why);
    } while (got < 0 && errno == EINTR);
    return got == (ssize_t)sizeof why ? why : 0;
}

static int spawn(struct process *process, char *const *words, int line[2], struct error *err)
{
    int report[2];
    if (pipe(report)) {
        return error_set(err, ERROR_FAILED, "pipe: %s", strerror(errno));
    }
    fcntl(report[0], F_SETFD, FD_CLOEXEC);
    fcntl(report[1], F_SETFD, FD_CLOEXEC);
    pid_t pid = fork();
    if (pid == 0) {
        become(words, line[1], report[1]);
    }
    int why = pid < 0 ? errno : 0;
    close(report[1]);
    if (pid > 0) {
        why = exec_failure(report[0]);
    }
    close(report[0]);
    if (why && pid > 0) {
        waitpid(pid, NULL, 0);
    }
    if (why) {
        return error_set(err, ERROR_FAILED, "the player %s does not start: %s%s", words[0],
                         strerror(why), why == ENOENT ? "; the package mpv has it" : "");
    }
    process->pid = pid;
    return 0;
}

static size_t split(char **words, size_t most, char *text)
{
    size_t count = 0;
    char *rest = NULL;
    for (char *word = strtok_r(text, " ", &rest); word && count < most;
         word = strtok_r(NULL, " ", &rest)) {
        words[count++] = word;
    }
    return count;
}

int process_start(struct process *process, const char *recording, int64_t from_ms,
                  struct error *err)
{
    const char *said = getenv("RINGTALLY_PLAYER");
    char command[512], server[140], client[64], start[64];
    char *words[WORDS_MAX] = {NULL};
    struct stat about;
    int line[2];
    *process = (struct process){.lifeline = -1};
    if (stat(recording, &about) || access(recording, R_OK)) {
        return error_set(err, ERROR_FAILED, "%s: %s", recording, strerror(errno));
    }
    if (S_ISDIR(about.st_mode)) {
        return error_set(err, ERROR_FAILED, "%s: this is a folder", recording);
    }
    snprintf(command, sizeof command, "%s", said && *said ? said : "mpv");
    size_t count = split(words, 16, command);
    if (count == 0) {
        return error_set(err, ERROR_FAILED, "RINGTALLY_PLAYER names no program");
    }
    int code = make_folder(process, err);
    if (code) {
        return code;
    }
    if (socketpair(AF_UNIX, SOCK_STREAM, 0, line)) {
        code = error_set(err, ERROR_FAILED, "socketpair: %s", strerror(errno));
        process_end(process);
        return code;
    }
    fcntl(line[0], F_SETFD, FD_CLOEXEC);
    fcntl(line[1], F_SETFD, FD_CLOEXEC);
    for (size_t i = 0; i < sizeof fixed_words / sizeof *fixed_words; i++) {
        words[count++] = (char *)(uintptr_t)fixed_words[i];
    }
    snprintf(server, sizeof server, "--input-ipc-server=%s", process->socket);
    snprintf(client, sizeof client, "--input-ipc-client=fd://%d", line[1]);
    snprintf(start, sizeof start, "--start=%lld.%03d", (long long)(from_ms / 1000),
             (int)(from_ms % 1000));
    words[count++] = server;
    words[count++] = client;
    words[count++] = start;
    words[count++] = (char *)(uintptr_t) "--";
    words[count] = (char *)(uintptr_t)recording;
    code = spawn(process, words, line, err);
    close(line[1]);
    process->lifeline = line[0];
    if (code) {
        process_end(process);
    }
    return code;
}

static void forget(struct process *process)
{
    process->pid = 0;
    if (process->lifeline >= 0) {
        close(process->lifeline);
    }
    process->lifeline = -1;
    if (process->folder[0]) {
        unlink(process->socket);
        rmdir(process->folder);
    }
    process->folder[0] = '\0';
}

bool process_ended(struct process *process, bool *refused)
{
    int status = 0;
    *refused = false;
    char unread[4096];
    while (process->lifeline >= 0 &&
           recv(process->lifeline, unread, sizeof unread, MSG_DONTWAIT) > 0) {
        /* events that the lifeline is told as well */
    }
    if (process->pid > 0 && waitpid(process->pid, &status, WNOHANG) == process->pid) {
        *refused = WIFEXITED(status) && WEXITSTATUS(status) == UNPLAYABLE;
        forget(process);
        return true;
    }
    return false;
}

void process_end(struct process *process)
{
    pid_t pid = process->pid;
    if (pid > 0) {
        kill(pid, SIGTERM);
        bool over = false;
        for (int waited = 0; waited < END_MS && !over; waited += LOOK_MS) {
            over = waitpid(pid, NULL, WNOHANG) == pid;
            if (!over) {
                poll(NULL, 0, LOOK_MS);
            }
        }
        if (!over) {
            kill(pid, SIGKILL);
            waitpid(pid, NULL, 0);
        }
    }
    forget(process);
}
