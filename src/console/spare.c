/* spare.c: where a desk writes while its database takes nothing. */
#include "console/spare.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include "ringtally/data/data.h"

struct spare {
    char home[4096];   /* the database */
    char folder[4096]; /* of the copy; "": none was made */
    char copy[4200];
    char reason[200];
};

/* Folders that are in memory on most systems come first. */
static bool make_folder(struct spare *spare, int place)
{
    const char *const tried[] = {getenv("XDG_RUNTIME_DIR"), "/dev/shm", getenv("TMPDIR"), "/tmp"};
    const char *folder = tried[place];
    int size = folder && folder[0] == '/'
                   ? snprintf(spare->folder, sizeof spare->folder, "%s/ringtally-XXXXXX", folder)
                   : -1;
    if (size < 0 || (size_t)size >= sizeof spare->folder || !mkdtemp(spare->folder)) {
        spare->folder[0] = '\0';
        return false;
    }
    snprintf(spare->copy, sizeof spare->copy, "%s/spare.db", spare->folder);
    return true;
}

static void drop_folder(struct spare *spare)
{
    static const char *const ends[] = {"", "-wal", "-shm", ".desks", ".signs"};
    for (size_t i = 0; i < sizeof ends / sizeof *ends && spare->folder[0]; i++) {
        char path[sizeof spare->copy + 16];
        snprintf(path, sizeof path, "%s%s", spare->copy, ends[i]);
        unlink(path);
    }
    if (spare->folder[0]) {
        rmdir(spare->folder);
        spare->folder[0] = '\0';
    }
}

int spare_open(struct spare **out, struct log **log, const char *db, const struct error *why)
{
    struct log *home = NULL;
    struct log *tried = NULL;
    struct spare *spare = calloc(1, sizeof *spare);
    *out = NULL;
    if (!spare) {
        return ERROR_MEMORY;
    }
    /* What else is wrong would be wrong with a copy as well. */
    bool takes = data_log_open(&tried, db, LOG_WRITE, NULL) == 0 && log_probe(tried, NULL) == 0;
    log_close(tried);
    int code = takes ? ERROR_FAILED : data_log_open(&home, db, LOG_READ, NULL);
    if (!code) {
        snprintf(spare->home, sizeof spare->home, "%s", log_path(home));
        const char *words = strncmp(why->text, spare->home, strlen(spare->home)) == 0
                                ? why->text + strlen(spare->home)
                                : why->text;
        snprintf(spare->reason, sizeof spare->reason, "%s", words + strspn(words, ": "));
        code = ERROR_FAILED;
        for (int place = 0; place < 4 && code; place++) {
            code = make_folder(spare, place) ? log_backup(home, spare->copy, NULL) : ERROR_FAILED;
            code = code ? code : data_log_open(log, spare->copy, LOG_WRITE, NULL);
            if (code) {
                drop_folder(spare);
            }
        }
    }
    log_close(home);
    if (code) {
        free(spare);
        return code;
    }
    *out = spare;
    return 0;
}

const char *spare_home(const struct spare *spare)
{
    return spare->home;
}

const char *spare_reason(const struct spare *spare)
{
    return spare->reason;
}

int spare_merge(const struct spare *spare, size_t *added, struct error *err)
{
    struct log *home = NULL;
    struct log *copy = NULL;
    struct log_merged merged = {0};
    int code = data_log_open(&copy, spare->copy, LOG_READ, err);
    code = code ? code : data_log_open(&home, spare->home, LOG_WRITE, err);
    code = code ? code : log_merge(home, copy, &merged, err);
    *added = merged.added;
    log_close(copy);
    log_close(home);
    return code;
}

void spare_close(struct spare *spare)
{
    if (spare) {
        drop_folder(spare);
        free(spare);
    }
}
