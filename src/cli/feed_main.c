/* feed_main.c: ringtally-feed, which `ringtally feed` runs. */
#include <errno.h>
#include <locale.h>
#include <signal.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/resource.h>
#include <sys/stat.h>

#include "cli/cli.h"
#include "cli/hub_place.h"
#include "ringtally/feed/feed.h"
#include "ringtally/hub/hub_mirror.h"
#include "ringtally/base/file.h"

#define TOKEN_LEAST 16
#define MAX_AGE     1    /* seconds that a cache may keep a live document */
#define FILES       2048 /* open at once: connections, and the database */

static void say(void *user, const char *line)
{
    (void)user;
    fprintf(stderr, "ringtally: %s\n", line);
}

/* The first line of a file that nobody else can read. */
static int read_secret(char **out, const char *what, const char *path, struct error *err)
{
    struct stat info;
    size_t size = 0;
    if (stat(path, &info)) {
        return error_set(err, ERROR_FAILED, "%s: %s", path, strerror(errno));
    }
    if (info.st_mode & (S_IRWXG | S_IRWXO)) {
        return error_set(err, ERROR_FAILED, "%s: others can read the %s: chmod 600", path, what);
    }
    int code = file_read(out, &size, path, err);
    if (code) {
        return code;
    }
    char *token = *out;
    token[strcspn(token, "\r\n")] = '\0';
    /* What may stand in a bearer header and in a cookie alike. */
    size_t sound = strspn(token, "ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz0123456789"
                                 "-._~+/");
    if (token[sound] || sound < TOKEN_LEAST) {
        return error_set(err, ERROR_FAILED,
                         "%s: a %s is at least %d letters, digits or any of - . _ ~ + /", path,
                         what, TOKEN_LEAST);
    }
    return 0;
}

/* One line where others can read the key; it may lie on a disk that has no such bits. */
static void look_at_key(const char *path)
{
    struct stat info;
    if (stat(path, &info) == 0 && info.st_mode & S_IRWXO) {
        fprintf(stderr, "ringtally: %s: others can read the key: chmod 600\n", path);
    }
}

/* "*", or origins as browsers send them, "https://graphics.example:8443", with commas between. */
static int check_origins(const char *list, struct error *err)
{
    if (strcmp(list, "*") == 0) {
        return 0;
    }
    for (const char *at = list; at; at = strchr(at, ',') ? strchr(at, ',') + 1 : NULL) {
        size_t scheme = strncmp(at, "http://", 7) == 0    ? 7
                        : strncmp(at, "https://", 8) == 0 ? 8
                                                          : 0;
        size_t size = strcspn(at, ",");
        size_t sound = scheme + strspn(at + scheme, "abcdefghijklmnopqrstuvwxyz0123456789-.:[]");
        if (!scheme || sound <= scheme || sound != size) {
            return error_set(err, ERROR_USAGE,
                             "--cors %s: * or origins are needed, as https://graphics.example",
                             list);
        }
    }
    return 0;
}

static void raise_limit(void)
{
    struct rlimit limit;
    if (getrlimit(RLIMIT_NOFILE, &limit) == 0 && limit.rlim_cur < FILES) {
        limit.rlim_cur = limit.rlim_max < FILES ? limit.rlim_max : FILES;
        setrlimit(RLIMIT_NOFILE, &limit); /* where it fails, fewer clients fit */
    }
}

/* As feed.h wants it. */
static int bring(void *mirror, const char *card, int number)
{
    static const int answers[] = {[HUB_WAIT] = 0, [HUB_HERE] = 1, [HUB_MISSING] = -1};
    return answers[hub_mirror_want(mirror, card, number)];
}

/* `uri` NULL: from the database of the setup; else from a hub, by a log of its own. */
static int serve(struct feed_setup setup, const char *uri, struct error *err)
{
    struct hub_place_dir place = {.folder = ""};
    struct hub_mirror *mirror = NULL;
    struct feed *feed = NULL;
    sigset_t ends;
    int caught = 0;
    sigemptyset(&ends);
    sigaddset(&ends, SIGINT);
    sigaddset(&ends, SIGTERM);
    sigaddset(&ends, SIGHUP);
    sigaddset(&ends, SIGQUIT);
    if (sigprocmask(SIG_BLOCK, &ends, NULL)) { /* before the threads, which inherit it */
        return error_set(err, ERROR_FAILED, "signals: %s", strerror(errno));
    }
    int code = uri ? hub_place_new(&place, err) : 0;
    code = code || !uri ? code : hub_mirror_open(&mirror, uri, place.path, say, NULL, err);
    if (mirror) {
        setup.db = place.path;
        setup.bring = bring;
        setup.bringer = mirror;
    }
    code = code ? code : feed_open(&feed, &setup, err);
    if (!code) {
        printf("%s\n", feed_url(feed));
        fflush(stdout);
        while (sigwait(&ends, &caught)) {
        }
    }
    feed_close(feed);
    hub_mirror_close(mirror);
    hub_place_remove(&place);
    return code;
}

static int run(const struct call *call, struct error *err)
{
    const char *db = NULL, *where = "127.0.0.1:8080", *token_file = NULL, *cors = NULL;
    const char *cert_file = NULL, *key_file = NULL, *rate_word = NULL, *max_age_word = NULL;
    const char *uri = NULL, *air_file = NULL, *hold_words = NULL, *delay_word = NULL;
    const char *post = NULL, *secret_file = NULL, *tokens = NULL;
    bool qr = false;
    const struct cli_option options[] = {{"--db", &db, NULL},
                                         {"--hub", &uri, NULL},
                                         {"--listen", &where, NULL},
                                         {"--token-file", &token_file, NULL},
                                         {"--cors", &cors, NULL},
                                         {"--tls-cert", &cert_file, NULL},
                                         {"--tls-key", &key_file, NULL},
                                         {"--rate", &rate_word, NULL},
                                         {"--max-age", &max_age_word, NULL},
                                         {"--air-css", &air_file, NULL},
                                         {"--hold", &hold_words, NULL},
                                         {"--delay", &delay_word, NULL},
                                         {"--tokens", &tokens, NULL},
                                         {"--qr", NULL, &qr},
                                         {"--post", &post, NULL},
                                         {"--post-secret-file", &secret_file, NULL},
                                         {NULL, NULL, NULL}};
    char path[4096];
    char *secret = NULL;
    char *token = NULL, *cert = NULL, *key = NULL, *air_css = NULL;
    size_t size = 0;
    int count = 0;
    int rate = 0;
    int max_age = MAX_AGE;
    unsigned holds = 0;
    int32_t delay_ms = 0;
    int code = cli_words(call, options, NULL, 0, &count, err);
    if (!code && db && uri) {
        code = error_set(err, ERROR_USAGE, "--db and --hub: one of them");
    }
    if (!code && (cert_file == NULL) != (key_file == NULL)) {
        code = error_set(err, ERROR_USAGE, "--tls-cert and --tls-key go together");
    }
    if (!code && (post == NULL) != (secret_file == NULL)) {
        code = error_set(err, ERROR_USAGE, "--post and --post-secret-file go together");
    }
    if (!code && (tokens || qr) && !token_file) {
        code =
            error_set(err, ERROR_USAGE, "%s goes with --token-file", tokens ? "--tokens" : "--qr");
    }
    if (!code && rate_word) {
        code = cli_number(&rate, "--rate", rate_word, 1, 1000000, err);
    }
    if (!code && max_age_word) {
        code = cli_number(&max_age, "--max-age", max_age_word, 0, 3600, err);
    }
    code = code ? code : cli_gate(&holds, &delay_ms, hold_words, delay_word, err);
    code = code || !cors ? code : check_origins(cors, err);
    if (!code && !db && !uri) {
        code = log_default_path(path, sizeof path, err);
        db = path;
    }
    code = code || !token_file ? code : read_secret(&token, "token", token_file, err);
    code = code || !secret_file ? code : read_secret(&secret, "secret", secret_file, err);
    code = code || !cert_file ? code : file_read(&cert, &size, cert_file, err);
    code = code || !air_file ? code : file_read(&air_css, &size, air_file, err);
    code = code || !key_file ? code : file_read(&key, &size, key_file, err);
    if (!code) {
        struct feed_setup setup = {.db = db,
                                   .listen = where,
                                   .token = token,
                                   .tokens = tokens,
                                   .qr = qr,
                                   .cors = cors,
                                   .tls_cert = cert,
                                   .tls_key = key,
                                   .rate = rate,
                                   .max_age = max_age,
                                   .holds = holds,
                                   .delay_ms = delay_ms,
                                   .air_css = air_css,
                                   .post = post,
                                   .post_secret = secret,
                                   .say = say};
        if (key_file) {
            look_at_key(key_file);
        }
        raise_limit();
        code = serve(setup, uri, err);
    }
    free(token);
    free(secret);
    free(air_css);
    free(cert);
    free(key);
    return code;
}

int main(int argc, char **argv)
{
    struct error err = {0};
    struct call call = {.self = argv[0], .words = argv + 1, .count = argc - 1};
    setlocale(LC_ALL, "");
    signal(SIGPIPE, SIG_IGN);
    int code = run(&call, &err);
    if (code) {
        fprintf(stderr, "ringtally: %s\n", err.text[0] ? err.text : "failed");
    }
    return code == 0 ? 0 : code == ERROR_USAGE ? 2 : 1;
}
