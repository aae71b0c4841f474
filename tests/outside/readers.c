/* readers.c: the program's commands, one after the other, each in a child of one process: so that
 * hundreds of them on hostile databases cost seconds.
 *
 * stdin: commands as after "ringtally": each word with a zero behind it, and a zero more. For each
 * "EXIT CPU_MS OUT_SIZE ERR_SIZE", a line feed, and what it wrote to stdout and stderr. EXIT is 128
 * + signal where one ended it: it gets 5 s of the processor and 30 of the clock. */
#define _GNU_SOURCE
#include <fcntl.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/mman.h>
#include <sys/resource.h>
#include <sys/wait.h>
#include <unistd.h>

int ringtally_main(int argc, char **argv);

#define WORDS 16

static void stop(const char *what)
{
    perror(what);
    exit(2);
}

static void run(int out, int err, int argc, char **argv)
{
    struct rlimit limit = {5, 6}, none = {0, 0};
    int in = open("/dev/null", O_RDONLY);
    if (dup2(in, 0) < 0 || dup2(out, 1) < 0 || dup2(err, 2) < 0 || setrlimit(RLIMIT_CPU, &limit) ||
        setrlimit(RLIMIT_CORE, &none)) {
        _exit(99);
    }
    alarm(30);
    exit(ringtally_main(argc, argv));
}

/* All that was written; the file is emptied. */
static char *taken(int fd, size_t *size)
{
    off_t end = lseek(fd, 0, SEEK_END);
    char *text = calloc((size_t)end + 1, 1);
    if (!text || pread(fd, text, (size_t)end, 0) != end || ftruncate(fd, 0) ||
        lseek(fd, 0, SEEK_SET)) {
        stop("output");
    }
    *size = (size_t)end;
    return text;
}

static void tell(int status, const struct rusage *used, int out, int err)
{
    size_t size = 0, said = 0;
    char *text = taken(out, &size), *words = taken(err, &said);
    printf("%d %ld %zu %zu\n", WIFSIGNALED(status) ? 128 + WTERMSIG(status) : WEXITSTATUS(status),
           (long)used->ru_utime.tv_sec * 1000 + (long)used->ru_utime.tv_usec / 1000, size, said);
    fwrite(text, 1, size, stdout);
    fwrite(words, 1, said, stdout);
    free(text);
    free(words);
}

/* The words of the next command, in `line`; how many, 0: there is none. */
static int next_command(char *line, size_t size, char **argv)
{
    int argc = 1;
    size_t used = 0;
    for (int c = 0, begins = 1; (c = getchar()) != EOF && used < size;) {
        if (c == '\0' && begins) {
            return argc;
        }
        if (begins && argc <= WORDS) {
            argv[argc++] = line + used;
        }
        line[used++] = (char)c;
        begins = c == '\0';
    }
    return 0;
}

int main(void)
{
    static char line[65536], name[] = "ringtally";
    int out = memfd_create("out", MFD_CLOEXEC), err = memfd_create("err", MFD_CLOEXEC);
    if (out < 0 || err < 0) {
        stop("memfd");
    }
    for (;;) {
        char *argv[WORDS + 2] = {name};
        int argc = next_command(line, sizeof line, argv), status = 0;
        struct rusage used;
        if (argc == 0) {
            return 0;
        }
        fflush(stdout);
        pid_t child = fork();
        if (child == 0) {
            run(out, err, argc, argv);
        }
        if (child < 0 || wait4(child, &status, 0, &used) != child) {
            stop("child");
        }
        tell(status, &used, out, err);
        fflush(stdout);
    }
}
