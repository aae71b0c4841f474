/* sender.c: the only file that knows libcurl. No redirect is followed (a signed event goes where
 * it was sent), certificates are checked, and what the endpoint says besides its status is not
 * read. */
#include "feed/sender.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <curl/curl.h>

#include "ringtally/base/mono.h"
#include "ringtally/base/when.h"

#define CONNECT_MS  5000L
#define ANSWER_MS   15000L
#define ANSWER_MOST 65536 /* bytes of an answer's body */

struct sender {
    CURL *curl;
    bool (*stops)(void *user);
    void *user;
    size_t taken;    /* of the answer's body */
    uint32_t random; /* for the pauses: nothing hangs on its being hard to guess */
};

static size_t discard(char *data, size_t size, size_t count, void *user)
{
    struct sender *sender = user;
    (void)data;
    sender->taken += size * count;
    return sender->taken > ANSWER_MOST ? 0 : size * count;
}

static int look(void *user, curl_off_t a, curl_off_t b, curl_off_t c, curl_off_t d)
{
    const struct sender *sender = user;
    (void)a;
    (void)b;
    (void)c;
    (void)d;
    return sender->stops(sender->user);
}

/* What stands between "//" and the next "/" must not hold a password: others see a command line. */
static int check_url(const char *url, struct error *err)
{
    size_t scheme = strncmp(url, "http://", 7) == 0 ? 7 : strncmp(url, "https://", 8) == 0 ? 8 : 0;
    size_t host = scheme ? strcspn(url + scheme, "/?#") : 0;
    if (!host) {
        return error_set(err, ERROR_USAGE,
                         "--post %s: an address that begins with http:// or https:// is needed",
                         url);
    }
    return memchr(url + scheme, '@', host)
               ? error_set(err, ERROR_USAGE,
                           "--post: no name or password in the address, since others see it")
               : 0;
}

int sender_open(struct sender **out, const char *url, bool (*stops)(void *user), void *user,
                struct error *err)
{
    int code = check_url(url, err);
    if (code) {
        return code;
    }
    struct sender *sender = calloc(1, sizeof *sender);
    if (!sender || curl_global_init(CURL_GLOBAL_DEFAULT)) {
        free(sender);
        return error_memory(err);
    }
    sender->curl = curl_easy_init();
    CURL *curl = sender->curl;
    bool ready = curl && !curl_easy_setopt(curl, CURLOPT_URL, url) &&
                 !curl_easy_setopt(curl, CURLOPT_PROTOCOLS_STR, "http,https") &&
                 !curl_easy_setopt(curl, CURLOPT_FOLLOWLOCATION, 0L) &&
                 !curl_easy_setopt(curl, CURLOPT_NOSIGNAL, 1L) &&
                 !curl_easy_setopt(curl, CURLOPT_CONNECTTIMEOUT_MS, CONNECT_MS) &&
                 !curl_easy_setopt(curl, CURLOPT_TIMEOUT_MS, ANSWER_MS) &&
                 !curl_easy_setopt(curl, CURLOPT_USERAGENT, "ringtally") &&
                 !curl_easy_setopt(curl, CURLOPT_WRITEFUNCTION, discard) &&
                 !curl_easy_setopt(curl, CURLOPT_WRITEDATA, sender) &&
                 !curl_easy_setopt(curl, CURLOPT_NOPROXY, "localhost,127.0.0.1,::1") &&
                 !curl_easy_setopt(curl, CURLOPT_NOPROGRESS, 0L) &&
                 !curl_easy_setopt(curl, CURLOPT_XFERINFOFUNCTION, look) &&
                 !curl_easy_setopt(curl, CURLOPT_XFERINFODATA, sender);
    sender->stops = stops;
    sender->user = user;
    sender->random = (uint32_t)when_now() ^ (uint32_t)mono_ms() << 7;
    if (!ready) {
        sender_close(sender);
        return error_set(err, ERROR_FAILED, "--post: libcurl does not do what is needed");
    }
    *out = sender;
    return 0;
}

void sender_close(struct sender *sender)
{
    if (sender) {
        curl_easy_cleanup(sender->curl);
        curl_global_cleanup();
        free(sender);
    }
}

unsigned sender_random(struct sender *sender)
{
    sender->random = sender->random * 1664525u + 1013904223u; /* Numerical Recipes, from memory */
    return sender->random >> 8;
}

/* One more header line; false: out of memory. */
static bool add(struct curl_slist **list, const char *name, const char *value)
{
    char line[256];
    snprintf(line, sizeof line, "%s: %s", name, value);
    struct curl_slist *longer = curl_slist_append(*list, line);
    *list = longer ? longer : *list;
    return longer != NULL;
}

/* Over the moment, the event's own name and the body, with a point between: none of the three can
 * be changed, or sent again later, without its being seen. */
static bool sign(struct curl_slist **list, const struct sent *sent)
{
    char moment[24], digest[SHA256_TEXT], value[SHA256_TEXT + 8];
    snprintf(moment, sizeof moment, "%lld", (long long)(when_now() / 1000));
    size_t head = strlen(moment) + strlen(sent->id) + 2;
    char *text = malloc(head + sent->size + 1);
    if (!text) {
        return false;
    }
    snprintf(text, head + 1, "%s.%s.", moment, sent->id);
    memcpy(text + head, sent->body, sent->size);
    sha256_hmac_text(digest, sent->secret, text, head + sent->size);
    free(text);
    snprintf(value, sizeof value, "sha256=%s", digest);
    return add(list, "Content-Type", "application/json") && add(list, "Expect", "") &&
           add(list, "Ringtally-Delivery", sent->id) && add(list, "Ringtally-Timestamp", moment) &&
           add(list, "Ringtally-Signature", value);
}

bool sender_send(struct sender *sender, struct sent *sent)
{
    CURL *curl = sender->curl;
    struct curl_slist *headers = NULL;
    long status = 0;
    curl_off_t after = 0;
    bool ready = sign(&headers, sent) && !curl_easy_setopt(curl, CURLOPT_HTTPHEADER, headers) &&
                 !curl_easy_setopt(curl, CURLOPT_POSTFIELDSIZE_LARGE, (curl_off_t)sent->size) &&
                 !curl_easy_setopt(curl, CURLOPT_POSTFIELDS, sent->body);
    sender->taken = 0;
    sent->after_s = 0;
    CURLcode result = ready ? curl_easy_perform(curl) : CURLE_OUT_OF_MEMORY;
    curl_easy_getinfo(curl, CURLINFO_RESPONSE_CODE, &status);
    curl_easy_getinfo(curl, CURLINFO_RETRY_AFTER, &after);
    curl_easy_setopt(curl, CURLOPT_HTTPHEADER, NULL);
    curl_slist_free_all(headers);
    /* An answer whose body is too long, or breaks off, was an answer. */
    bool answered = status >= 200 && status < 300 &&
                    (!result || result == CURLE_WRITE_ERROR || result == CURLE_PARTIAL_FILE);
    if (!answered && status >= 300) {
        sent->after_s = after > 0 && after < 600 ? after : 0;
        snprintf(sent->trouble, sizeof sent->trouble, "it answered %ld%s", status,
                 status < 400 ? ", and no redirect is followed" : "");
    } else if (!answered) {
        snprintf(sent->trouble, sizeof sent->trouble, "%s", curl_easy_strerror(result));
    }
    return answered;
}
