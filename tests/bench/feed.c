/* feed.c: the feed beside the real console: a key pressed to the event received by each of many
 * clients, requests answered, memory, and what the desk notices of it.
 *
 * bench_feed [--smoke]
 *
 * Clients and the load run in processes of their own. Blocks of strikes with the feed at work and
 * with the feed, its clients and the load stopped take turns, so that the machine's drift hits
 * both.
 */
#include <errno.h>
#include <fcntl.h>
#include <netinet/in.h>
#include <poll.h>
#include <signal.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/socket.h>
#include <sys/wait.h>
#include <time.h>
#include <unistd.h>

#include "base.h"
#include "player.h"
#include "rig.h"
#include "table.h"

#define BOUT     "saltglass-4/1"
#define RATE     1000 /* requests a second */
#define SETTLE   40   /* after a key, in milliseconds */
#define PERIOD   100
#define ID_MOST  20000
#define CLIENTS  200
#define PAD_KEYS ((int)sizeof pad - 1)

static const char pad[] = "qWerTasDfgzVbuiOpyHjklmn";

struct plan {
    int clients, blocks, block, hour, seconds;
};

struct feed {
    pid_t pid;
    int port;
};

static int64_t cpu_ns(pid_t pid)
{
    clockid_t clock;
    struct timespec used = {0};
    if (clock_getcpuclockid(pid, &clock) || clock_gettime(clock, &used)) {
        harness_die("clock_getcpuclockid");
    }
    return (int64_t)used.tv_sec * 1000000000 + used.tv_nsec;
}

static double rss_mb(pid_t pid)
{
    char path[64], line[256];
    long kb = 0;
    snprintf(path, sizeof path, "/proc/%d/status", (int)pid);
    FILE *file = fopen(path, "r");
    while (file && fgets(line, sizeof line, file)) {
        sscanf(line, "VmRSS: %ld", &kb);
    }
    if (!file || fclose(file)) {
        harness_die(path);
    }
    return (double)kb / 1024;
}

static void sleep_ms(int ms)
{
    poll(NULL, 0, ms);
}

static struct feed feed_start(const struct rig *rig)
{
    struct feed feed = {0};
    int ends[2];
    char line[128] = "";
    if (pipe(ends) || (feed.pid = fork()) < 0) {
        harness_die("feed");
    }
    if (feed.pid == 0) {
        dup2(ends[1], STDOUT_FILENO);
        close(ends[0]);
        execl(FEED, FEED, "--db", rig->db, "--listen", "127.0.0.1:0", "--rate", "1000000",
              (char *)NULL);
        _exit(127);
    }
    close(ends[1]);
    ssize_t got = read(ends[0], line, sizeof line - 1);
    const char *colon = strrchr(line, ':');
    if (got <= 0 || !colon || (feed.port = atoi(colon + 1)) <= 0) {
        harness_die("the feed does not start");
    }
    close(ends[0]);
    return feed;
}

static int dial(const struct feed *feed)
{
    struct sockaddr_in address = {.sin_family = AF_INET, .sin_port = htons((uint16_t)feed->port)};
    address.sin_addr.s_addr = htonl(INADDR_LOOPBACK);
    int fd = socket(AF_INET, SOCK_STREAM, 0);
    if (fd < 0 || connect(fd, (struct sockaddr *)&address, sizeof address)) {
        harness_die("connect");
    }
    return fd;
}

static void ask(int fd, const char *what, const char *more)
{
    char text[512];
    int size =
        snprintf(text, sizeof text, "GET /v1/bouts/%s/%s HTTP/1.1\r\nHost: 127.0.0.1\r\n%s\r\n",
                 BOUT, what, more);
    if (write(fd, text, (size_t)size) != size) {
        harness_die("write");
    }
}

/* ---- The clients: note when each first heard of each entry. */

struct heard {
    int32_t id;
    int64_t ns;
};

struct client {
    int fd;
    char tail[64]; /* end of what was read, where a line may go on */
    size_t tail_size;
    int seen;
};

static volatile sig_atomic_t told_to_end;

static void on_end(int number)
{
    (void)number;
    told_to_end = 1;
}

/* Looks for "\nid: N" in what a client has read. */
static void take(struct client *client, const char *text, size_t size, FILE *notes)
{
    static char whole[65536 + 64];
    int64_t now = vt_now();
    memcpy(whole, client->tail, client->tail_size);
    memcpy(whole + client->tail_size, text, size);
    size += client->tail_size;
    whole[size] = '\0';
    for (const char *at = whole; (at = strstr(at, "\nid: ")); at++) {
        int id = atoi(at + 5);
        if (strchr(at + 5, '\n') && id > client->seen) {
            for (int i = client->seen ? client->seen + 1 : id; i <= id; i++) {
                struct heard heard = {i, now};
                fwrite(&heard, sizeof heard, 1, notes);
            }
            client->seen = id;
        }
    }
    client->tail_size = size < sizeof client->tail ? size : sizeof client->tail - 1;
    memcpy(client->tail, whole + size - client->tail_size, client->tail_size);
}

static pid_t clients_start(const struct feed *feed, int count, const char *path)
{
    pid_t pid = fork();
    if (pid != 0) {
        return pid;
    }
    struct client *clients = calloc((size_t)count, sizeof *clients);
    struct pollfd *waits = calloc((size_t)count, sizeof *waits);
    FILE *notes = fopen(path, "w");
    char text[65536];
    if (!clients || !waits || !notes) {
        _exit(1);
    }
    struct sigaction act = {.sa_handler = on_end};
    sigaction(SIGTERM, &act, NULL);
    for (int i = 0; i < count; i++) {
        clients[i].fd = dial(feed);
        ask(clients[i].fd, "events", "");
        waits[i] = (struct pollfd){.fd = clients[i].fd, .events = POLLIN};
    }
    while (!told_to_end) {
        int ready = poll(waits, (nfds_t)count, 1000);
        for (int i = 0; i < count && ready > 0; i++) {
            if (waits[i].revents) {
                ssize_t got = read(clients[i].fd, text, sizeof text);
                if (got <= 0) {
                    fprintf(stderr, "a client lost its line\n");
                    _exit(1);
                }
                take(&clients[i], text, (size_t)got, notes);
            }
        }
    }
    _exit(fclose(notes) ? 1 : 0);
}

/* ---- The load: conditional requests over one connection. */

/* Reads one answer; its status. The tag it brings is kept. */
static int answer(int fd, char tag[64])
{
    static char text[65536];
    size_t used = 0;
    char *end = NULL;
    while (!(end = strstr(text, "\r\n\r\n")) || used == 0) {
        ssize_t got = read(fd, text + used, sizeof text - 1 - used);
        if (got <= 0) {
            harness_die("answer");
        }
        used += (size_t)got;
        text[used] = '\0';
    }
    int status = atoi(text + 9);
    const char *size = strstr(text, "Content-Length: ");
    size_t whole = (size_t)(end + 4 - text) + (status == 200 && size ? (size_t)atoi(size + 16) : 0);
    const char *etag = strstr(text, "ETag: ");
    if (etag) {
        snprintf(tag, 64, "%.*s", (int)strcspn(etag + 6, "\r"), etag + 6);
    }
    while (used < whole) {
        ssize_t got = read(fd, text, whole - used < sizeof text ? whole - used : sizeof text);
        if (got <= 0) {
            harness_die("answer");
        }
        used += (size_t)got;
    }
    text[0] = '\0';
    return status;
}

static int request(int fd, char tag[64])
{
    char more[96];
    snprintf(more, sizeof more, "If-None-Match: %s\r\n", tag[0] ? tag : "\"\"");
    ask(fd, "counts", more);
    return answer(fd, tag);
}

/* So many a second until it is ended. */
static pid_t load_start(const struct feed *feed)
{
    pid_t pid = fork();
    if (pid != 0) {
        return pid;
    }
    char tag[64] = "";
    int fd = dial(feed);
    int64_t due = vt_now();
    for (;;) {
        request(fd, tag);
        due += 1000000000 / RATE;
        int64_t wait = due - vt_now();
        if (wait > 0) {
            struct timespec pause = {.tv_nsec = (long)(wait < 900000000 ? wait : 900000000)};
            nanosleep(&pause, NULL);
        } else if (wait < -1000000000) {
            due = vt_now(); /* it was stopped meanwhile */
        }
    }
}

static void measure_requests(const struct feed *feed, int seconds)
{
    char tag[64] = "";
    long same = 0, all = 0;
    int fd = dial(feed);
    int64_t cpu = cpu_ns(feed->pid);
    int64_t start = vt_now();
    while (vt_now() - start < (int64_t)seconds * 1000000000) {
        same += request(fd, tag) == 304;
        all++;
    }
    double took = (double)(vt_now() - start) / 1e9;
    double busy = (double)(cpu_ns(feed->pid) - cpu) / 1e9;
    close(fd);
    table_title("conditional requests for counts");
    table_plain("a second over one connection", "", (double)all / took);
    table_plain("a second of the feed's core", "", (double)all / busy);
    table_limit("share of a core at 1000 a second", "%", busy / (double)all * RATE * 100, 100);
    table_plain("of them 304", "%", 100.0 * (double)same / (double)all);
}

/* ---- The whole. */

struct awaited {
    long saved;
};

static bool is_saved(struct vt *vt, void *context)
{
    const struct awaited *awaited = context;
    long saved = 0, waiting = 0;
    return rig_saved(vt, &saved, &waiting) && saved >= awaited->saved && waiting == 0;
}

static void signal_all(const pid_t pids[3], int number)
{
    for (int i = 0; i < 3; i++) {
        if (pids[i] > 0) {
            kill(pids[i], number);
        }
    }
}

static int64_t typed[ID_MOST]; /* when the key of that entry was pressed; 0: not measured */

/* Strikes in blocks, the feed at work in every other one. */
static bool measure_events(struct player *desk, const struct plan *plan, const pid_t pids[3],
                           long *entries)
{
    struct sample with = {0}, without = {0};
    bool ok = true;
    for (int block = 0; block < 2 * plan->blocks && ok; block++) {
        bool working = block % 2 == 1;
        signal_all(pids, working ? SIGCONT : SIGSTOP);
        vt_watch(desk->vt, 300);
        int64_t start = vt_now();
        for (int i = 0; i < plan->block && ok; i++) {
            int64_t due = start + (int64_t)i * PERIOD * 1000000;
            while (vt_now() < due) {
                vt_watch(desk->vt, (int)((due - vt_now() + 999999) / 1000000));
            }
            char key[2] = {pad[*entries % PAD_KEYS], '\0'};
            struct awaited awaited = {++*entries};
            if (working && *entries < ID_MOST) {
                typed[*entries] = vt_now();
            }
            ok = player_hit(desk, key, SETTLE, is_saved, &awaited);
            sample_add(working ? &with : &without, desk->shown.value[desk->shown.count - 1]);
        }
    }
    signal_all(pids, SIGCONT);
    table_title("the desk: key to last changed cell");
    table_ratio("feed at work against feed stopped, median", "ms", sample_median(&with),
                sample_median(&without), 1.1);
    table_ratio("  p95", "ms", sample_quantile(&with, 0.95), sample_quantile(&without, 0.95), 0);
    table_ratio("  p99", "ms", sample_quantile(&with, 0.99), sample_quantile(&without, 0.99), 1.1);
    sample_release(&with);
    sample_release(&without);
    return ok;
}

static bool report_events(const char *path, const struct plan *plan)
{
    struct sample latency = {0};
    struct heard heard;
    long expected = 0, found = 0;
    FILE *notes = fopen(path, "r");
    if (!notes) {
        harness_die(path);
    }
    while (fread(&heard, sizeof heard, 1, notes) == 1) {
        if (heard.id > 0 && heard.id < ID_MOST && typed[heard.id]) {
            sample_add(&latency, (double)(heard.ns - typed[heard.id]) / 1e6);
            found++;
        }
    }
    fclose(notes);
    for (int i = 0; i < ID_MOST; i++) {
        expected += typed[i] ? plan->clients : 0;
    }
    table_title("key pressed to event received");
    table_plain("clients", "", plan->clients);
    table_plain("events received", "", (double)found);
    table_limit("median", "ms", sample_median(&latency), 0);
    table_limit("p99", "ms", sample_quantile(&latency, 0.99), 150);
    table_limit("slowest", "ms", sample_quantile(&latency, 1), 0);
    sample_release(&latency);
    if (found != expected) {
        fprintf(stderr, "%ld events were received, %ld expected\n", found, expected);
    }
    return found == expected;
}

/* An hour's worth of strikes in bursts. */
static bool measure_memory(struct player *desk, const struct feed *feed, const struct plan *plan,
                           long *entries)
{
    double before = rss_mb(feed->pid), middle = 0;
    bool ok = true;
    for (int i = 0; i < plan->hour && ok; i += 20) {
        char keys[21] = "";
        for (int j = 0; j < 20; j++) {
            keys[j] = pad[(i + j) % PAD_KEYS];
        }
        *entries += 20;
        struct awaited awaited = {*entries};
        ok = player_hit(desk, keys, 0, is_saved, &awaited);
        middle = i < plan->hour / 2 ? rss_mb(feed->pid) : middle;
    }
    sleep_ms(500);
    double after = rss_mb(feed->pid);
    table_title("the feed's memory");
    table_plain("before", "MB", before);
    table_plain("after half of the strikes", "MB", middle);
    table_plain("after them", "MB", after);
    table_plain("strikes", "", plan->hour);
    table_limit("grown by, a strike", "KB", (after - before) * 1024 / plan->hour, 0);
    return ok;
}

int main(int argc, char **argv)
{
    struct plan plan = {.clients = CLIENTS, .blocks = 10, .block = 50, .hour = 3600, .seconds = 5};
    struct rig rig;
    struct player desk;
    char notes[400];
    int status = 0;
    if (argc == 2 && strcmp(argv[1], "--smoke") == 0) {
        plan = (struct plan){.clients = 20, .blocks = 1, .block = 5, .hour = 40, .seconds = 1};
    } else if (argc != 1) {
        fputs("usage: bench_feed [--smoke]\n", stderr);
        return 2;
    }
    rig_init(&rig, PROGRAM, CARD);
    snprintf(notes, sizeof notes, "%s/heard", rig.folder);
    const char *words[] = {rig.program, "--db", rig.db, "desk", "1", NULL};
    player_open(&desk, words, rig.folder, RIG_READY);
    rig_saved_place(desk.vt, &desk.row, &desk.column);
    long entries = rig_settled(desk.vt) + 1;
    vt_press(desk.vt, "Enter");
    bool ok = rig_wait_saved(desk.vt, entries);

    struct feed feed = feed_start(&rig);
    pid_t pids[3] = {feed.pid, clients_start(&feed, plan.clients, notes), 0};
    sleep_ms(1500);
    pids[2] = load_start(&feed);
    ok = measure_events(&desk, &plan, pids, &entries) && ok;
    sleep_ms(1000);
    kill(pids[2], SIGKILL);
    waitpid(pids[2], &status, 0);
    kill(pids[1], SIGTERM);
    waitpid(pids[1], &status, 0);
    ok = ok && WIFEXITED(status) && WEXITSTATUS(status) == 0;
    ok = report_events(notes, &plan) && ok;
    measure_requests(&feed, plan.seconds);
    pids[1] = clients_start(&feed, 5, notes);
    ok = measure_memory(&desk, &feed, &plan, &entries) && ok;
    kill(pids[1], SIGKILL);
    waitpid(pids[1], &status, 0);
    kill(feed.pid, SIGTERM);
    waitpid(feed.pid, &status, 0);
    ok = ok && WIFEXITED(status) && WEXITSTATUS(status) == 0;

    ok = rig_leave(desk.vt) == 0 && ok;
    desk.vt = NULL;
    player_close(&desk);
    rig_release(&rig);
    return ok ? 0 : 1;
}
