/* data.c: the database, and data files: the user's own before the built-in ones. */
#include <errno.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include "ringtally/data/data.h"

#include "ringtally/base/embedded.h"
#include "ringtally/base/file.h"
#include "ringtally/bout/clock.h"

/* Whether the bout can be counted here. */
static int rules_known(const struct bout *bout, struct error *err)
{
    struct rules rules;
    return data_bout_rules(&rules, bout, err);
}

int data_log_open(struct log **out, const char *db, enum log_mode mode, struct error *err)
{
    char path[4096];
    int code = db ? 0 : log_default_path(path, sizeof path, err);
    code = code ? code : log_open(out, db ? db : path, mode, NULL, err);
    if (!code) {
        log_ask_rules(*out, rules_known);
    }
    return code;
}

void data_own_path(char *out, size_t size, const char *name)
{
    const char *config = getenv("XDG_CONFIG_HOME");
    const char *home = getenv("HOME");
    int length = 0;
    if (config && config[0] == '/') {
        length = snprintf(out, size, "%s/ringtally/%s", config, name);
    } else if (home && home[0] == '/') {
        length = snprintf(out, size, "%s/.config/ringtally/%s", home, name);
    }
    if (length <= 0 || (size_t)length >= size) {
        out[0] = '\0';
    }
}

static const char *what_of(const char *folder)
{
    return strcmp(folder, "keymaps") == 0 ? "key map" : "rule set";
}

/* The command that lists them. */
static const char *command_of(const char *folder)
{
    return strcmp(folder, "keymaps") == 0 ? "keys" : "rules";
}

int data_file(char **text, size_t *size, char file[4096], const char *folder, const char *id,
              struct error *err)
{
    char name[128];
    int length = snprintf(name, sizeof name, "%s/%s.ini", folder, id);
    if (strchr(id, '/') || length >= (int)sizeof name) {
        return error_set(err, ERROR_FAILED, "no %s of that name: %s", what_of(folder), id);
    }
    data_own_path(file, 4096, name);
    if (file[0] && access(file, F_OK) == 0) {
        return file_read(text, size, file, err);
    }
    const struct embedded *embedded = embedded_find(name);
    if (!embedded) {
        return error_set(err, ERROR_FAILED, "no %s of that name: %s (`%s list` says what there is)",
                         what_of(folder), id, command_of(folder));
    }
    *text = malloc(embedded->size + 1);
    if (!*text) {
        return error_memory(err);
    }
    memcpy(*text, embedded->data, embedded->size + 1);
    *size = embedded->size;
    snprintf(file, 4096, "%s", name);
    return 0;
}

int data_rules(struct rules *out, const char *id, struct error *err)
{
    char file[4096];
    char *text = NULL;
    size_t size = 0;
    int code = data_file(&text, &size, file, "rules", id, err);
    if (!code) {
        code = rules_parse(out, text, size, file, err);
    }
    free(text);
    return code;
}

int data_bout_rules(struct rules *out, const struct bout *bout, struct error *err)
{
    int code = data_rules(out, bout->rules, err);
    return code ? code : rules_terms(out, bout->terms, err);
}

int data_keep_rules(struct rules_kept *kept, const struct bout *bout, struct error *err)
{
    if (kept->known && strcmp(kept->of.rules, bout->rules) == 0 &&
        strcmp(kept->of.terms, bout->terms) == 0 && kept->of.rounds == bout->rounds) {
        return 0;
    }
    kept->of = *bout;
    int code = data_bout_rules(&kept->rules, bout, err);
    kept->known = code == 0;
    return code;
}

int data_bout_rounds(const struct bout *bout)
{
    struct rules rules;
    struct error err;
    return data_bout_rules(&rules, bout, &err) ? ROUND_MAX
                                               : clock_plan(&rules, bout->rounds).rounds;
}
