/* cmd_sign.c: the record signed and reopened, and the key that signs. */
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include "cli/cli.h"
#include "ringtally/base/digest.h"
#include "ringtally/base/file.h"
#include "ringtally/base/text.h"
#include "ringtally/log/verify.h"
#include "ringtally/tally/officials.h"
#include "ringtally/tally/review.h"

/* Where the key is that signs, unless it is named. */
static int key_path(char out[4096], const char *named, struct error *err)
{
    if (named) {
        int size = snprintf(out, 4096, "%s", named);
        return size < 4096 ? 0 : error_set(err, ERROR_USAGE, "the key's path is too long");
    }
    data_own_path(out, 4096, "sign.key");
    return out[0] ? 0
                  : error_set(err, ERROR_FAILED,
                              "where is the key? none of XDG_CONFIG_HOME and "
                              "HOME says so");
}

/* The key that signs: of the file that was named, else the user's own; *there false: none. */
static int sign_key(struct keypair *out, bool *there, const char *named, struct error *err)
{
    char path[4096];
    *there = false;
    if (!named) {
        data_own_path(path, sizeof path, "sign.key");
        if (!path[0] || access(path, F_OK)) {
            return 0;
        }
    }
    int code = key_path(path, named, err);
    code = code ? code : keypair_load(out, path, err);
    *there = !code;
    return code;
}

static void print_key(const struct keypair *keys)
{
    char text[KEY_TEXT];
    hex_write(text, keys->public_, sizeof keys->public_);
    printf("%s\n", text);
}

int command_key(const struct call *call, struct error *err)
{
    static const char *const verbs[] = {"new", "show"};
    const struct cli_option options[] = {{NULL, NULL, NULL}};
    const char *words[2] = {NULL, NULL};
    struct keypair keys = {{0}, {0}};
    char path[4096];
    int count = 0, verb = 0;
    int code = cli_words(call, options, words, 2, &count, err);
    if (!code && count == 0) {
        code = error_set(err, ERROR_USAGE, "key new [FILE] or key show [FILE] is needed");
    }
    code = code ? code : cli_choice(&verb, "key", words[0], verbs, 2, err);
    code = code ? code : key_path(path, words[1], err);
    if (!code && verb == 1) {
        code = keypair_load(&keys, path, err);
    } else if (!code) {
        code = words[1] ? 0 : file_make_folders(path, err);
        if (!code && !keypair_new(&keys)) {
            code = error_set(err, ERROR_FAILED, "this machine gives no random numbers");
        }
        code = code ? code : keypair_save(&keys, path, err);
    }
    if (!code) {
        print_key(&keys);
        fprintf(stderr,
                "ringtally: this is the public key, for whoever checks what is signed; the secret "
                "one is in %s\n",
                path);
    }
    keypair_forget(&keys);
    return code;
}

/* What a desk still writes would come after the signature. */
static int nobody_is_at_it(const struct reading *reading, struct error *err)
{
    const struct desk_row *desks = NULL;
    int count = fold_desks(reading->fold, &desks);
    for (int i = 0; i < count; i++) {
        if (desks[i].root == i && log_desk_is_live(reading->log, desks[i].id)) {
            return error_set(err, ERROR_FAILED,
                             "%s/%d: %s's desk is open on it: the record is signed once it is left",
                             reading->bout.card, reading->bout.number, desks[i].name);
        }
    }
    return 0;
}

/* Nobody signs for a record that is known not to be whole, unless they mean to. */
static int is_whole(const struct reading *reading, struct error *err)
{
    struct verified found;
    struct buf faults = BUF_INIT;
    int code = verify_bout(reading->log, &reading->bout, reading->fold, &found, &faults, err);
    if (!code && faults.size) {
        code = error_set(
            err, ERROR_FAILED, "%s/%d is not whole: %.300s (--override signs all the same)",
            reading->bout.card, reading->bout.number, faults.failed ? "" : faults.text);
    }
    buf_release(&faults);
    return code;
}

/* What a record lacks that is signed now: told, and asked about at a terminal. */
static int confirm(bool *out, const struct reading *reading, bool yes, struct error *err)
{
    struct officials officials;
    const struct subject *subjects = NULL;
    size_t count = fold_subjects(reading->fold, &subjects);
    uint8_t *reasons = malloc(count + 1);
    if (!reasons) {
        return error_memory(err);
    }
    size_t looks = review_reasons(reasons, count, reading->fold, &reading->rules);
    free(reasons);
    officials_read(&officials, reading->fold, &reading->rules, &reading->bout,
                   reading->view.now_ms);
    if (!officials.announced) {
        fputs("ringtally: no result is announced\n", stderr);
    }
    if (looks > 0) {
        fprintf(stderr, "ringtally: %zu entr%s not looked at yet\n", looks,
                looks == 1 ? "y is" : "ies are");
    }
    *out = true;
    bool asks = (!officials.announced || looks > 0) && !yes && isatty(STDIN_FILENO);
    return asks ? cli_ask(out, false, "Sign all the same?", err) : 0;
}

/* What is to be written, and how. */
struct signing {
    const char *operator_;
    enum entry_code what; /* CODE_SIGN or CODE_REOPEN */
    const char *text;
    const char *key; /* the file of the key; NULL: the user's own, if any */
    bool override, yes;
};

static int check_signing(const struct reading *reading, const struct signing *signing,
                         struct error *err)
{
    const struct entry *signature = fold_signed(reading->fold);
    bool sign = signing->what == CODE_SIGN;
    int code = sign ? nobody_is_at_it(reading, err) : 0;
    if (!code && (signature != NULL) == sign) {
        code =
            error_set(err, ERROR_FAILED,
                      signature ? "%s/%d is signed already, by %s" : "%s/%d is not signed%s",
                      reading->bout.card, reading->bout.number, signature ? signature->text : "");
    }
    return code || !sign || signing->override ? code : is_whole(reading, err);
}

static void say_signed(const struct reading *reading, const struct keypair *keys)
{
    char key[KEY_TEXT];
    printf("%s/%d is signed: the record is closed\n", reading->bout.card, reading->bout.number);
    if (keys) {
        hex_write(key, keys->public_, sizeof keys->public_);
        printf("sealed with the key %s\n", key);
    } else {
        printf("sealed without a key (`ringtally key new` makes one)\n");
    }
}

/* Writes one entry that signs or reopens the record, from a desk of its own. */
static int write_sign(const struct call *call, const char *ref, const struct signing *signing,
                      struct error *err)
{
    struct reading reading = {0};
    struct entry entry = {.kind = ENTRY_SIGN, .code = (uint8_t)signing->what};
    const struct entry *entries = NULL;
    struct keypair keys = {{0}, {0}};
    bool sign = signing->what == CODE_SIGN, keyed = false;
    int code = sign ? sign_key(&keys, &keyed, signing->key, err) : 0;
    code = code ? code : cli_reading(&reading, call, ref, NULL, err);
    code = code ? code : check_signing(&reading, signing, err);
    if (!code && (!text_clean(entry.text, sizeof entry.text, signing->text) || !entry.text[0])) {
        code = error_set(err, ERROR_USAGE, "a text of at most %zu bytes is needed",
                         sizeof entry.text - 1);
    }
    bool go = true;
    code = code || !sign ? code : confirm(&go, &reading, signing->yes, err);
    if (!code && !go) {
        puts("left unsigned");
    } else if (!code && sign) {
        entry.value = (int64_t)fold_entries(reading.fold, &entries);
        code = data_sign(call->db, &reading, signing->operator_, &entry, keyed ? &keys : NULL, err);
    } else if (!code) {
        code = data_append(call->db, &reading, signing->operator_, &entry, 1, err);
    }
    if (!code && sign && go) {
        say_signed(&reading, keyed ? &keys : NULL);
    } else if (!code && go) {
        printf("%s/%d is open again\n", reading.bout.card, reading.bout.number);
    }
    keypair_forget(&keys);
    reading_release(&reading);
    return code;
}

int command_sign(const struct call *call, struct error *err)
{
    const char *bout = NULL;
    struct signing signing = {.what = CODE_SIGN};
    const struct cli_option options[] = {{"--operator", &signing.operator_, NULL},
                                         {"--key", &signing.key, NULL},
                                         {"--override", NULL, &signing.override},
                                         {"--yes", NULL, &signing.yes},
                                         {NULL, NULL, NULL}};
    int count = 0;
    int code = cli_words(call, options, &bout, 1, &count, err);
    if (!code && (count == 0 || !signing.operator_)) {
        code = error_set(err, ERROR_USAGE, "sign BOUT --operator NAME is needed");
    }
    signing.text = signing.operator_;
    return code ? code : write_sign(call, bout, &signing, err);
}

int command_reopen(const struct call *call, struct error *err)
{
    const char *bout = NULL;
    struct signing signing = {.what = CODE_REOPEN};
    const struct cli_option options[] = {{"--operator", &signing.operator_, NULL},
                                         {"--reason", &signing.text, NULL},
                                         {NULL, NULL, NULL}};
    int count = 0;
    int code = cli_words(call, options, &bout, 1, &count, err);
    if (!code && (count == 0 || !signing.operator_ || !signing.text || !*signing.text)) {
        code = error_set(err, ERROR_USAGE, "reopen BOUT --operator NAME --reason TEXT is needed");
    }
    return code ? code : write_sign(call, bout, &signing, err);
}
