/* soak.c: two desks, the feed, a watched folder and a follower of the hub on one database while
 * keys flow; one of them is killed, told to end by a signal, or loses its terminal, and is started
 * again.
 *
 * soak [ENDS [SEED [HUB KEEP]]]
 * HUB is a connection string without a database: evening N (from 0) goes to the database eveningN,
 * which has the schema (check_soak.py makes them); its log stays as KEEP/eveningN.db. Without it no
 * hub is followed. */
#include <signal.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include "rig.h"
#include "run.h"

#define ENDS_A_DATABASE 150  /* then a new one, so that the log stays an evening's */
#define END_MS          3000 /* that a program has for ending by itself */
#define RESUME_MS       100  /* that a desk may take from its start to its whole panel */

enum role { DESK_RED, DESK_BLUE, FEED, DROP, FOLLOWER, ROLES };

static const struct {
    const char *name;
    char corner;
    const char *keys;
} roles[ROLES] = {
    {"red desk", 'r', "qwertasdfgzvbQWERTASDFGZVB"},
    {"blue desk", 'b', "yuiophjklnmYUIOPHJKLNM"},
    {.name = "feed"},
    {.name = "drop"},
    {.name = "follower"},
};

/* How it ends. A program that got no signal by then is closed with its terminal. */
static const struct {
    const char *name;
    int number; /* 0: the terminal is closed */
    bool stopped, twice;
} fates[] = {
    {"KILL", SIGKILL},      {"TERM", SIGTERM},
    {"INT", SIGINT},        {"QUIT", SIGQUIT},
    {"HUP", SIGHUP},        {"STOP, KILL", SIGKILL, .stopped = true},
    {"terminal closed", 0}, {"HUP and TERM at once", SIGTERM, .twice = true},
    {"USR1", SIGUSR1},
};
#define FATES ((int)(sizeof fates / sizeof *fates))

static struct {
    struct rig rig;
    const char *hub, *keep; /* NULL: none */
    int roles;
    long evening;
    char uri[600];
    struct vt *vt[ROLES];
    long strikes[ROLES]; /* in the log, at the last look */
    long typed[ROLES];   /* since */
    long ends[ROLES], by_fate[FATES];
    double resume[20000];
    size_t resumes;
    double slowest_end;
    double caught_up; /* the longest that the hub took to have all, in ms */
    uint64_t seed;
    int failed;
} soak;

static int draw(int limit)
{
    soak.seed ^= soak.seed << 13;
    soak.seed ^= soak.seed >> 7;
    soak.seed ^= soak.seed << 17;
    return (int)((soak.seed >> 11) % (uint64_t)limit);
}

static double ms_since(int64_t begun)
{
    return (double)(vt_now() - begun) / 1e6;
}

static void fail(const char *what, enum role role, int fate)
{
    fprintf(stderr, "%s, %s: %s\n", roles[role].name, fates[fate].name, what);
    soak.failed++;
}

/* Entries of a desk's operator. */
static long count_of(enum role role, const char *more)
{
    char text[512];
    snprintf(
        text, sizeof text,
        "SELECT count(*) FROM entry JOIN desk ON desk.id = entry.desk WHERE operator = '%s' %s",
        roles[role].name, more);
    return rig_number(&soak.rig, text);
}

static long strikes_of(enum role role)
{
    return count_of(role, "AND kind = 'strike' AND act = 'add'");
}

static bool start(enum role role)
{
    const struct rig *rig = &soak.rig;
    char folder[300];
    snprintf(folder, sizeof folder, "%s/drop", rig->folder);
    const char *desk[] = {rig->program,
                          "--db",
                          rig->db,
                          "desk",
                          "1",
                          "--operator",
                          roles[role].name,
                          "--corner",
                          role == DESK_RED ? "red" : "blue",
                          NULL};
    const char *feed[] = {rig->program, "--db", rig->db, "feed", "--listen", "127.0.0.1:0", NULL};
    const char *drop[] = {rig->program, "--db", rig->db, "drop", "1", "--dir", folder, NULL};
    const char *follow[] = {rig->program, "--db",   rig->db,  "hub",
                            "follow",     soak.uri, "--wait", NULL};
    const char *const *const argv[ROLES] = {desk, desk, feed, drop, follow};
    int64_t begun = vt_now();
    struct vt_setup setup = {.argv = argv[role], .home = rig->folder, .columns = 100, .rows = 30};
    struct vt *vt = soak.vt[role] = vt_open(&setup);
    if (role == FEED) {
        return vt_wait_text(vt, "http://", RIG_WAIT_MS);
    }
    if (role == DROP || role == FOLLOWER) {
        return true;
    }
    if (!vt_wait_text(vt, RIG_READY, RIG_WAIT_MS)) {
        return false;
    }
    soak.resume[soak.resumes++ % (sizeof soak.resume / sizeof *soak.resume)] = ms_since(begun);
    /* It shows what the log has. */
    soak.strikes[role] = strikes_of(role);
    soak.typed[role] = 0;
    long landed = count_of(role, "AND kind = 'strike' AND outcome = 'landed'");
    return rig_settled(vt) >= 0 &&
           rig_wait_total(vt, roles[role].corner, landed, soak.strikes[role]);
}

/* What its desk had shown, as the last that was read of its screen says it, is in the log. */
static void check_desk(enum role role, int fate, bool by_itself)
{
    long saved = 0, waiting = 0;
    bool shown = fates[fate].number && rig_saved(soak.vt[role], &saved, &waiting);
    long kept = rig_number(&soak.rig, "SELECT count(*) FROM entry"); /* it tells of the bout's */
    long strikes = strikes_of(role);
    if (shown && kept < saved + (by_itself ? waiting : 0)) {
        fprintf(stderr, "shown %ld saved, %ld waiting; kept %ld\n", saved, waiting, kept);
        fail("what was shown is not in the log", role, fate);
    }
    if (strikes < soak.strikes[role] || strikes > soak.strikes[role] + soak.typed[role]) {
        fail("more or fewer strikes than were typed", role, fate);
    }
    if (rig_number(&soak.rig, "SELECT count(*) FROM (SELECT 1 FROM entry GROUP BY desk "
                              "HAVING max(seq) <> count(*))")) {
        fail("a gap in a desk's entries", role, fate);
    }
}

/* Ends one of them; false: it did not end as it should. */
static void end(enum role role, int fate)
{
    struct vt *vt = soak.vt[role];
    pid_t pid = vt_pid(vt);
    bool by_itself = fates[fate].number != SIGKILL;
    int64_t begun = vt_now();
    if (fates[fate].stopped) {
        kill(pid, SIGSTOP);
        vt_watch(vt, draw(4));
    }
    if (fates[fate].twice) {
        kill(pid, SIGHUP);
    }
    if (fates[fate].number == SIGKILL) {
        vt_kill(vt);
    } else if (fates[fate].number) {
        kill(pid, fates[fate].number);
    } else {
        vt_hang_up(vt);
    }
    int code = vt_wait_exit(vt, RIG_WAIT_MS);
    double took = ms_since(begun);
    soak.slowest_end = took > soak.slowest_end ? took : soak.slowest_end;
    if (by_itself && (code == -1 || took > END_MS)) {
        fail("it did not end within 3 s", role, fate);
    }
    if (role <= DESK_BLUE && by_itself && code != 0) {
        fail("it did not end in order", role, fate);
    }
    if (by_itself && fates[fate].number && !vt_restored(vt)) {
        fail("the terminal is not as it was", role, fate);
    }
    if (role <= DESK_BLUE) {
        check_desk(role, fate, by_itself);
    }
    vt_close(vt);
    soak.vt[role] = NULL;
    soak.ends[role]++;
    soak.by_fate[fate]++;
}

/* A few strikes at both desks, as fast as hands are. */
static void strike(void)
{
    for (int i = 4 + draw(10); i > 0; i--) {
        enum role role = (enum role)draw(2);
        static char last[2];
        char key = 0;
        do {
            key = roles[role].keys[draw((int)strlen(roles[role].keys))];
        } while (key == last[role]);
        last[role] = key;
        vt_type_bytes(soak.vt[role], &key, 1);
        soak.typed[role]++;
        vt_pump(soak.vt[DESK_RED], draw(3));
        vt_pump(soak.vt[DESK_BLUE], 0);
        for (int other = FEED; other < soak.roles; other++) {
            vt_pump(soak.vt[other], 0);
        }
    }
}

static void begin_database(void)
{
    rig_init(&soak.rig, PROGRAM, CARD);
    char folder[300];
    static struct run made;
    snprintf(folder, sizeof folder, "%s/drop", soak.rig.folder);
    const char *argv[] = {"/bin/mkdir", folder, NULL};
    run(&made, soak.rig.folder, argv);
    memset(soak.strikes, 0, sizeof soak.strikes);
    snprintf(soak.uri, sizeof soak.uri, "%s dbname=evening%ld", soak.hub ? soak.hub : "",
             soak.evening);
    for (int role = 0; role < soak.roles; role++) {
        if (!start(role)) {
            fail("it did not start", role, 0);
        }
    }
}

/* The follower that is there sends the rest; then the log is kept, for others to compare. */
static void keep_evening(void)
{
    static struct run done;
    char path[400];
    const char *status[] = {soak.rig.program, "--db",     soak.rig.db, "hub", "status",
                            soak.uri,         "--format", "json",      NULL};
    const char *backup[] = {soak.rig.program, "--db", soak.rig.db, "backup", path, NULL};
    int64_t begun = vt_now();
    do {
        vt_watch(soak.vt[FOLLOWER], 20);
        run(&done, soak.rig.folder, status);
    } while (!strstr(done.out, "\"to_send\":0,\"to_fetch\":0") && ms_since(begun) < RIG_WAIT_MS);
    double took = ms_since(begun);
    soak.caught_up = took > soak.caught_up ? took : soak.caught_up;
    if (took >= RIG_WAIT_MS) {
        fprintf(stderr, "%s\n", done.out);
        vt_print(soak.vt[FOLLOWER], "the follower");
        fail("the hub has not what is here", FOLLOWER, 0);
    }
    snprintf(path, sizeof path, "%s/evening%ld.db", soak.keep, soak.evening);
    run(&done, soak.rig.folder, backup);
    if (done.status != 0) {
        fprintf(stderr, "%s\n", done.out);
        fail("no copy of the log", FOLLOWER, 0);
    }
    soak.evening++;
}

static void end_database(void)
{
    for (int role = 0; role < ROLES; role++) {
        if (role == FOLLOWER && soak.hub) { /* after the desks, which write when they end */
            keep_evening();
        }
        vt_close(soak.vt[role]);
        soak.vt[role] = NULL;
    }
    if (rig_number(&soak.rig, "SELECT count(*) FROM pragma_integrity_check "
                              "WHERE integrity_check <> 'ok'")) {
        fail("the database is not sound", 0, 0);
    }
    rig_release(&soak.rig);
}

static int compare(const void *a, const void *b)
{
    double x = *(const double *)a, y = *(const double *)b;
    return x < y ? -1 : x > y;
}

static void report(void)
{
    size_t room = sizeof soak.resume / sizeof *soak.resume;
    size_t count = soak.resumes < room ? soak.resumes : room;
    qsort(soak.resume, count, sizeof *soak.resume, compare);
    printf("ends:");
    for (int i = 0; i < soak.roles; i++) {
        printf(" %ld %s%s", soak.ends[i], roles[i].name, i + 1 < soak.roles ? "," : "\n");
    }
    for (int i = 0; i < FATES; i++) {
        printf("  %5ld %s\n", soak.by_fate[i], fates[i].name);
    }
    printf("a desk is back, with its whole panel, after ms: median %.0f, 95%% %.0f, slowest %.0f "
           "(%zu)\nslowest end by itself: %.0f ms\n",
           count ? soak.resume[count / 2] : 0, count ? soak.resume[count * 95 / 100] : 0,
           count ? soak.resume[count - 1] : 0, count, soak.slowest_end);
    if (soak.hub) {
        printf("evenings followed to the hub: %ld; at the end it had all after %.0f ms at most\n",
               soak.evening, soak.caught_up);
    }
}

int main(int argc, char **argv)
{
    signal(SIGINT, SIG_DFL); /* a shell's background job ignores them, and would hand that down */
    signal(SIGQUIT, SIG_DFL);
    signal(SIGHUP, SIG_DFL); /* nohup does */
    long ends = argc > 1 ? strtol(argv[1], NULL, 10) : 60;
    soak.seed = argc > 2 ? strtoull(argv[2], NULL, 10) : 0x2545f4914f6cdd1d;
    soak.hub = argc > 4 ? argv[3] : NULL;
    soak.keep = argc > 4 ? argv[4] : NULL;
    soak.roles = soak.hub ? ROLES : FOLLOWER;
    for (long i = 0; i < ends && soak.failed < 5; i++) {
        if (i % ENDS_A_DATABASE == 0) {
            if (i) {
                end_database();
            }
            begin_database();
        }
        strike();
        enum role role = draw(4) ? (enum role)draw(2) : (enum role)(FEED + draw(soak.roles - FEED));
        end(role, draw(FATES));
        if (!start(role)) {
            fail("it did not start", role, 0);
            break;
        }
    }
    end_database();
    report();
    size_t count = soak.resumes;
    /* Of a loaded machine the median is the program's. */
    if (MEASURED && count && soak.resume[count / 2] >= RESUME_MS) {
        fprintf(stderr, "a desk takes longer than %d ms to be back\n", RESUME_MS);
        soak.failed++;
    }
    printf("%s\n", soak.failed ? "FAILED" : "nothing was lost");
    return soak.failed != 0;
}
