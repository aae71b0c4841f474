/* hub_main.c: ringtally-hub, which `ringtally hub` runs. */
#include <errno.h>
#include <locale.h>
#include <signal.h>
#include <stdio.h>
#include <string.h>

#include "cli/hub_cmds.h"
#include "ringtally/base/buf.h"
#include "ringtally/base/when.h"
#include "ringtally/hub/hub.h"

static void say(void *user, const char *line)
{
    (void)user;
    fprintf(stderr, "ringtally: %s\n", line);
}

static volatile sig_atomic_t told_to_end;

static void on_signal(int number)
{
    (void)number;
    told_to_end = 1;
}

/* What ends a program ends this one in order; the second time at once. */
static int catch_signals(struct error *err)
{
    static const int numbers[] = {SIGINT, SIGTERM, SIGHUP};
    struct sigaction action = {.sa_handler = on_signal, .sa_flags = SA_RESETHAND};
    for (size_t i = 0; i < sizeof numbers / sizeof numbers[0]; i++) {
        if (sigaction(numbers[i], &action, NULL)) {
            return error_set(err, ERROR_FAILED, "signals: %s", strerror(errno));
        }
    }
    return 0;
}

static int one_word(const struct call *call, const struct cli_option *options, const char **out,
                    struct error *err)
{
    int count = 0;
    int code = cli_words(call, options, out, 1, &count, err);
    return code || count == 1 ? code
                              : error_set(err, ERROR_USAGE, "hub init|follow|status URI is needed");
}

static int run_init(const struct call *call, struct error *err)
{
    const struct cli_option options[] = {{NULL, NULL, NULL}};
    const char *uri = NULL;
    struct hub *hub = NULL;
    int from = 0, to = 0;
    int code = one_word(call, options, &uri, err);
    code = code ? code : hub_open(&hub, uri, HUB_MAKE, err);
    code = code ? code : hub_init(hub, &from, &to, err);
    if (!code && from == to) {
        printf("hub %s has schema version %d already\n", hub_name(hub), to);
    } else if (!code) {
        printf("hub %s: schema version %d\n", hub_name(hub), to);
    }
    hub_close(hub);
    return code;
}

static int run_follow(const struct call *call, struct error *err)
{
    const char *uri = NULL, *card = "";
    bool wait = false, once = false;
    const struct cli_option options[] = {{"--card", &card, NULL},
                                         {"--wait", NULL, &wait},
                                         {"--once", NULL, &once},
                                         {NULL, NULL, NULL}};
    struct log *log = NULL;
    int code = one_word(call, options, &uri, err);
    /* A truck begins with nothing; a hall without its database has a wrong path. */
    code = code ? code : data_log_open(&log, call->db, *card ? LOG_CREATE : LOG_WRITE, err);
    code = code ? code : catch_signals(err);
    if (!code) {
        struct hub_follow how = {
            .uri = uri, .card = card, .wait = wait, .once = once, .stop = &told_to_end, .say = say};
        code = hub_follow(log, &how, err);
    }
    log_close(log);
    return code;
}

static void put_gap(struct buf *out, const char *name, const struct hub_gap *gap, bool json)
{
    int64_t behind_ms = gap->here_ms ? when_now() - gap->here_ms : 0;
    behind_ms = behind_ms > 0 ? behind_ms : 0;
    if (json) {
        buf_addf(out, "{\"to_send\":%lld,\"to_fetch\":%lld,\"behind_ms\":%lld}\n",
                 (long long)gap->here, (long long)gap->there, (long long)behind_ms);
        return;
    }
    if (!gap->here && !gap->there) {
        buf_addf(out, "hub %s: both sides have the same\n", name);
        return;
    }
    buf_addf(out, "hub %s: %lld to send", name, (long long)gap->here);
    if (gap->here) {
        buf_addf(out, ", the oldest %lld.%lld s behind", (long long)(behind_ms / 1000),
                 (long long)(behind_ms % 1000 / 100));
    }
    buf_addf(out, "; %lld to fetch\n", (long long)gap->there);
}

static int run_status(const struct call *call, struct error *err)
{
    static const char *const formats[] = {"table", "json"};
    const char *uri = NULL, *card = "", *format = "table";
    const struct cli_option options[] = {
        {"--card", &card, NULL}, {"--format", &format, NULL}, {NULL, NULL, NULL}};
    struct hub *hub = NULL;
    struct log *log = NULL;
    struct hub_gap gap = {0};
    struct buf out = BUF_INIT;
    int choice = 0;
    int code = one_word(call, options, &uri, err);
    code = code ? code : cli_choice(&choice, "--format", format, formats, 2, err);
    code = code ? code : data_log_open(&log, call->db, LOG_READ, err);
    code = code ? code : hub_open(&hub, uri, HUB_READ, err);
    code = code ? code : hub_compare(hub, log, card, &gap, err);
    if (!code) {
        put_gap(&out, hub_name(hub), &gap, choice == 1);
        code = out.failed ? error_memory(err) : cli_write(NULL, out.text, out.size, err);
    }
    buf_release(&out);
    hub_close(hub);
    log_close(log);
    return code;
}

static int run(struct call *call, struct error *err)
{
    static const struct {
        const char *name;
        command *run;
    } commands[] = {{"init", run_init},
                    {"follow", run_follow},
                    {"status", run_status},
                    {"same", hub_command_same},
                    {"history", hub_command_history}};
    if (call->count >= 2 && strcmp(call->words[0], "--db") == 0) {
        call->db = call->words[1];
        call->words += 2;
        call->count -= 2;
    }
    for (size_t i = 0; call->count && i < sizeof commands / sizeof commands[0]; i++) {
        if (strcmp(call->words[0], commands[i].name) == 0) {
            call->words++;
            call->count--;
            return commands[i].run(call, err);
        }
    }
    command *reads = call->count ? hub_reading_command(call->words[0]) : NULL;
    if (reads) {
        bool former = strcmp(call->words[0], "remarks") == 0;
        call->words++;
        call->count--;
        return hub_command_read(call, reads, former, err);
    }
    return error_set(err, ERROR_USAGE, "hub init|follow|status|same URI is needed");
}

int main(int argc, char **argv)
{
    struct error err = {0};
    struct call call = {.self = argv[0], .words = argv + 1, .count = argc - 1};
    setlocale(LC_ALL, "");
    setlocale(LC_NUMERIC, "C");
    signal(SIGPIPE, SIG_IGN);
    int code = run(&call, &err);
    if (code) {
        fprintf(stderr, "ringtally: %s\n", err.text[0] ? err.text : "failed");
    }
    return code == 0 ? 0 : code == ERROR_USAGE ? 2 : 1;
}
