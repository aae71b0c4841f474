/* guard.c: who may ask, how often, and from which page. */
#include "feed/guard.h"

#include <errno.h>
#include <fcntl.h>
#include <netdb.h>
#include <netinet/in.h>
#include <pthread.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <strings.h>
#include <sys/stat.h>
#include <unistd.h>

#include "ringtally/base/file.h"
#include "ringtally/base/grow.h"
#include "ringtally/base/mono.h"
#include "ringtally/base/when.h"
#include "feed/watch.h"

#define CALLERS       512  /* addresses remembered */
#define RATE_NET      100  /* requests a second */
#define RATE_LOOPBACK 5000 /* machines beside us */

/* One address: of IPv6 the first half, since a host has the other half to itself. */
struct caller {
    unsigned char address[8];
    bool used;
    double allowance; /* requests left */
    int64_t at_ms;    /* monotonic: when it was reckoned */
    int64_t read_ms;  /* monotonic: last reading; 0: none */
    int streams;
};

/* A device's own token. */
struct named {
    char name[GUARD_NAME_SIZE];
    char token[GUARD_TOKEN_SIZE];
};

struct guard {
    char *token;
    char *tokens; /* the file's path, or NULL */
    int rate;
    pthread_mutex_t lock;
    char link[GUARD_LINK_SIZE];
    struct named *named;
    size_t named_count;
    struct stat tokens_seen; /* of the file when it was read */
    struct caller caller[CALLERS];
    int64_t read_ms; /* UTC */
    int refused;     /* since it was asked last */
    struct sockaddr_storage refused_address;
};

static int make_link(char out[GUARD_LINK_SIZE], struct error *err)
{
    unsigned char bytes[(GUARD_LINK_SIZE - 1) / 2];
    int fd = open("/dev/urandom", O_RDONLY | O_CLOEXEC);
    ssize_t got = fd < 0 ? -1 : read(fd, bytes, sizeof bytes);
    if (fd >= 0) {
        close(fd);
    }
    if (got != (ssize_t)sizeof bytes) {
        return error_set(err, ERROR_FAILED, "/dev/urandom: %s", strerror(errno));
    }
    for (size_t i = 0; i < sizeof bytes; i++) {
        snprintf(out + 2 * i, 3, "%02x", bytes[i]);
    }
    return 0;
}

/* What may stand in a bearer header, in a cookie and in a file alike. */
static bool is_token(const char *text)
{
    size_t sound = strspn(text, "ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz0123456789"
                                "-._~+/");
    return !text[sound] && sound >= 16 && sound < GUARD_TOKEN_SIZE;
}

/* "NAME TOKEN" a line; blank lines and those that begin with '#' say nothing. */
static int parse_tokens(struct named **out, size_t *count, char *text, const char *path,
                        struct error *err)
{
    struct named *named = NULL;
    size_t room = 0;
    int number = 0;
    *count = 0;
    for (char *line = text; line;) {
        char *end = strchr(line, '\n');
        number++;
        if (end) {
            *end = '\0';
        }
        line[strcspn(line, "\r")] = '\0';
        size_t size = strcspn(line, " \t");
        const char *token = line + size + strspn(line + size, " \t");
        if (*line && *line != '#') {
            if (size == 0 || size >= GUARD_NAME_SIZE || !is_token(token)) {
                free(named);
                return error_set(err, ERROR_FAILED,
                                 "%s:%d: a name and a token of at least 16 letters, digits or any "
                                 "of - . _ ~ + / are needed",
                                 path, number);
            }
            if (!grow_array(&named, sizeof *named, *count, 1, &room)) {
                free(named);
                return error_memory(err);
            }
            struct named *one = &named[(*count)++];
            snprintf(one->name, sizeof one->name, "%.*s", (int)size, line);
            snprintf(one->token, sizeof one->token, "%s", token);
        }
        line = end ? end + 1 : NULL;
    }
    *out = named;
    return 0;
}

int guard_reload(struct guard *guard, bool *changed, struct error *err)
{
    struct stat now;
    char *text = NULL;
    size_t size = 0, count = 0;
    struct named *named = NULL;
    *changed = false;
    if (!guard->tokens) {
        return 0;
    }
    if (stat(guard->tokens, &now)) {
        return error_set(err, ERROR_FAILED, "%s: %s", guard->tokens, strerror(errno));
    }
    pthread_mutex_lock(&guard->lock); /* two threads may come by */
    struct stat seen = guard->tokens_seen;
    pthread_mutex_unlock(&guard->lock);
    if (now.st_ino == seen.st_ino && now.st_size == seen.st_size &&
        now.st_mtim.tv_sec == seen.st_mtim.tv_sec && now.st_mtim.tv_nsec == seen.st_mtim.tv_nsec) {
        return 0;
    }
    if (now.st_mode & (S_IRWXG | S_IRWXO)) {
        return error_set(err, ERROR_FAILED, "%s: others can read the tokens: chmod 600",
                         guard->tokens);
    }
    int code = file_read(&text, &size, guard->tokens, err);
    code = code ? code : parse_tokens(&named, &count, text, guard->tokens, err);
    free(text);
    if (code) {
        return code;
    }
    pthread_mutex_lock(&guard->lock);
    struct named *old = guard->named;
    guard->named = named;
    guard->named_count = count;
    guard->tokens_seen = now;
    pthread_mutex_unlock(&guard->lock);
    free(old);
    *changed = true;
    return 0;
}

bool guard_knows(struct guard *guard, const char *who)
{
    pthread_mutex_lock(&guard->lock);
    bool known = !*who; /* everybody's */
    for (size_t i = 0; i < guard->named_count; i++) {
        known = known || strcmp(guard->named[i].name, who) == 0;
    }
    pthread_mutex_unlock(&guard->lock);
    return known;
}

int guard_new(struct guard **out, const char *token, const char *tokens, int rate,
              struct error *err)
{
    struct guard *guard = calloc(1, sizeof *guard);
    if (!guard || pthread_mutex_init(&guard->lock, NULL)) {
        free(guard);
        return error_memory(err);
    }
    guard->rate = rate;
    int code = make_link(guard->link, err);
    if (!code && token) {
        guard->token = malloc(strlen(token) + 1);
        code = guard->token ? 0 : error_memory(err);
    }
    if (code) {
        guard_free(guard);
        return code;
    }
    if (token) {
        memcpy(guard->token, token, strlen(token) + 1);
    }
    if (tokens) {
        bool changed = false;
        guard->tokens = malloc(strlen(tokens) + 1);
        code = guard->tokens ? 0 : error_memory(err);
        if (!code) {
            memcpy(guard->tokens, tokens, strlen(tokens) + 1);
            code = guard_reload(guard, &changed, err);
        }
        if (code) {
            guard_free(guard);
            return code;
        }
    }
    *out = guard;
    return 0;
}

void guard_free(struct guard *guard)
{
    if (guard) {
        pthread_mutex_destroy(&guard->lock);
        free(guard->token);
        free(guard->tokens);
        free(guard->named);
        free(guard);
    }
}

bool guard_same(const char *secret, const char *offered)
{
    size_t size = strlen(secret);
    size_t offered_size = strlen(offered);
    volatile unsigned char differ = size != offered_size;
    for (size_t i = 0; i < offered_size; i++) { /* as long as what was offered, which it knows */
        differ |= (unsigned char)(secret[size ? i % size : 0] ^ offered[i]);
    }
    return differ == 0;
}

bool guard_is_loopback(const struct sockaddr *address)
{
    if (address->sa_family == AF_INET) {
        const struct sockaddr_in *four = (const struct sockaddr_in *)address;
        return ntohl(four->sin_addr.s_addr) >> 24 == 127;
    }
    if (address->sa_family == AF_INET6) {
        const struct sockaddr_in6 *six = (const struct sockaddr_in6 *)address;
        const unsigned char *bytes = six->sin6_addr.s6_addr;
        return IN6_IS_ADDR_LOOPBACK(&six->sin6_addr) ||
               (IN6_IS_ADDR_V4MAPPED(&six->sin6_addr) && bytes[12] == 127);
    }
    return false;
}

static void key_of(unsigned char out[8], const struct sockaddr *address)
{
    memset(out, 0, 8);
    if (address->sa_family == AF_INET) {
        const struct sockaddr_in *four = (const struct sockaddr_in *)address;
        out[0] = 4; /* no global IPv6 address begins so */
        memcpy(out + 4, &four->sin_addr.s_addr, 4);
    } else if (address->sa_family == AF_INET6) {
        const struct sockaddr_in6 *six = (const struct sockaddr_in6 *)address;
        if (IN6_IS_ADDR_V4MAPPED(&six->sin6_addr)) {
            out[0] = 4;
            memcpy(out + 4, six->sin6_addr.s6_addr + 12, 4);
        } else {
            memcpy(out, six->sin6_addr.s6_addr, 8);
        }
    }
}

bool guard_same_host(const struct sockaddr *a, const struct sockaddr *b)
{
    unsigned char one[8], other[8];
    key_of(one, a);
    key_of(other, b);
    return memcmp(one, other, sizeof one) == 0;
}

static double rate_of(const struct guard *guard, const struct sockaddr *address)
{
    return guard->rate ? guard->rate : guard_is_loopback(address) ? RATE_LOOPBACK : RATE_NET;
}

/* The caller of that address; where all places are taken, in place of the one that was quiet for
 * longest and has no stream. NULL: all have. The lock is held. */
static struct caller *find(struct guard *guard, const struct sockaddr *address)
{
    unsigned char key[8];
    struct caller *oldest = NULL;
    key_of(key, address);
    for (int i = 0; i < CALLERS; i++) {
        struct caller *caller = &guard->caller[i];
        if (caller->used && memcmp(caller->address, key, sizeof key) == 0) {
            return caller;
        }
        if (!caller->used || caller->streams == 0) {
            int64_t age = caller->used ? caller->at_ms : -1;
            oldest = !oldest || age < (oldest->used ? oldest->at_ms : -1) ? caller : oldest;
        }
    }
    if (oldest) {
        *oldest = (struct caller){
            .used = true, .allowance = 2 * rate_of(guard, address), .at_ms = mono_ms()};
        memcpy(oldest->address, key, sizeof key);
    }
    return oldest;
}

bool guard_allow(struct guard *guard, const struct sockaddr *address)
{
    double rate = rate_of(guard, address);
    int64_t now = mono_ms();
    pthread_mutex_lock(&guard->lock);
    struct caller *caller = find(guard, address);
    bool allowed = false;
    if (caller) {
        caller->allowance += rate * (double)(now - caller->at_ms) / 1000.0;
        caller->allowance = caller->allowance > 2 * rate ? 2 * rate : caller->allowance;
        caller->at_ms = now;
        allowed = caller->allowance >= 1;
        caller->allowance -= allowed;
    }
    pthread_mutex_unlock(&guard->lock);
    return allowed;
}

/* Whether what was offered is a token; all are compared, so that time tells of none. */
static bool find_token(struct guard *guard, const char *offered, char who[GUARD_NAME_SIZE])
{
    bool found = guard_same(guard->token, offered);
    *who = '\0';
    pthread_mutex_lock(&guard->lock);
    for (size_t i = 0; i < guard->named_count; i++) {
        if (guard_same(guard->named[i].token, offered) && !found) {
            found = true;
            memcpy(who, guard->named[i].name, GUARD_NAME_SIZE);
        }
    }
    pthread_mutex_unlock(&guard->lock);
    return found;
}

bool guard_admits(struct guard *guard, const char *authorization, const char *cookie,
                  char who[GUARD_NAME_SIZE])
{
    static const char scheme[] = "Bearer ";
    size_t size = sizeof scheme - 1;
    *who = '\0';
    if (!guard->token) {
        return true;
    }
    if (authorization && strncasecmp(authorization, scheme, size) == 0) {
        return find_token(guard, authorization + size, who);
    }
    return cookie && find_token(guard, cookie, who);
}

void guard_link(struct guard *guard, char out[GUARD_LINK_SIZE])
{
    pthread_mutex_lock(&guard->lock);
    memcpy(out, guard->link, GUARD_LINK_SIZE);
    pthread_mutex_unlock(&guard->lock);
}

/* A device's own token, at the end of the file: "tablet-3 ...". The lock is not held. */
static int add_device(struct guard *guard, char cookie[GUARD_TOKEN_SIZE], struct error *err)
{
    char name[GUARD_NAME_SIZE], token[GUARD_LINK_SIZE];
    bool changed = false;
    char *text = NULL;
    size_t size = 0;
    struct buf more = BUF_INIT;
    int number = 1;
    int code = guard_reload(guard, &changed, err); /* as it is now, or it is left alone */
    code = code ? code : make_link(token, err);
    code = code ? code : file_read(&text, &size, guard->tokens, err);
    do {
        snprintf(name, sizeof name, "tablet-%d", number++);
    } while (!code && guard_knows(guard, name));
    if (!code) {
        buf_add(&more, text, size);
        buf_addf(&more, "%s%s %s\n", size && text[size - 1] != '\n' ? "\n" : "", name, token);
        code = more.failed ? error_memory(err)
                           : file_write_private(guard->tokens, more.text, more.size, err);
        code = code ? code : guard_reload(guard, &changed, err);
        snprintf(cookie, GUARD_TOKEN_SIZE, "%s", token);
    }
    buf_release(&more);
    free(text);
    return code;
}

bool guard_enter(struct guard *guard, const char *code, char cookie[GUARD_TOKEN_SIZE],
                 struct error *err)
{
    pthread_mutex_lock(&guard->lock);
    char next[GUARD_LINK_SIZE] = "";
    bool right = guard->token && guard_same(guard->link, code) && make_link(next, NULL) == 0;
    if (right) {
        memcpy(guard->link, next, sizeof next);
    }
    pthread_mutex_unlock(&guard->lock);
    if (right && guard->tokens) {
        right = add_device(guard, cookie, err) == 0;
    } else if (right) {
        snprintf(cookie, GUARD_TOKEN_SIZE, "%s", guard->token);
    }
    return right;
}

const char *guard_token(const struct guard *guard)
{
    return guard->token;
}

void guard_refused(struct guard *guard, const struct sockaddr *address)
{
    pthread_mutex_lock(&guard->lock);
    guard->refused++;
    memcpy(&guard->refused_address, address,
           address->sa_family == AF_INET6 ? sizeof(struct sockaddr_in6)
                                          : sizeof(struct sockaddr_in));
    pthread_mutex_unlock(&guard->lock);
}

int guard_refusals(struct guard *guard, char address[64])
{
    pthread_mutex_lock(&guard->lock);
    int count = guard->refused;
    guard->refused = 0;
    if (count && getnameinfo((struct sockaddr *)&guard->refused_address,
                             sizeof guard->refused_address, address, 64, NULL, 0, NI_NUMERICHOST)) {
        snprintf(address, 64, "?");
    }
    pthread_mutex_unlock(&guard->lock);
    return count;
}

void guard_read(struct guard *guard, const struct sockaddr *address)
{
    pthread_mutex_lock(&guard->lock);
    struct caller *caller = find(guard, address);
    if (caller) {
        caller->read_ms = mono_ms();
    }
    guard->read_ms = when_now();
    pthread_mutex_unlock(&guard->lock);
}

void guard_stream(struct guard *guard, const struct sockaddr *address, int change)
{
    pthread_mutex_lock(&guard->lock);
    struct caller *caller = find(guard, address);
    if (caller && caller->streams + change >= 0) {
        caller->streams += change;
    }
    pthread_mutex_unlock(&guard->lock);
}

int guard_clients(struct guard *guard, int64_t *read_ms)
{
    int count = 0;
    int64_t now = mono_ms();
    pthread_mutex_lock(&guard->lock);
    for (int i = 0; i < CALLERS; i++) {
        const struct caller *caller = &guard->caller[i];
        bool reads = caller->read_ms && now - caller->read_ms < GUARD_READER_MS;
        count += caller->used ? caller->streams > 0 ? caller->streams : reads : 0;
        if (caller->streams > 0) {
            guard->read_ms = when_now(); /* a stream reads all the time */
        }
    }
    *read_ms = guard->read_ms;
    pthread_mutex_unlock(&guard->lock);
    return count;
}
