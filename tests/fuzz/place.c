/* place.c: a folder and a sound database for the targets that need one. */
#define _GNU_SOURCE
#include <ftw.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include "ringtally/bout/card.h"
#include "ringtally/data/data.h"
#include "ringtally/log/log.h"
#include "targets.h"

#define CARD                                                                                       \
    "[card]\nid = night-1\ntitle = Night of the Lamps\ndate = 2026-02-28\nvenue = Old Rope Hall\n" \
    "[bout 1]\nrules = kickboxing\nred.name = Ana Lume\nblue.name = Bo Reef\n"                     \
    "judges = Ju Dge, Ar Biter, Um Pire\n"                                                         \
    "[bout 2]\nrules = boxing\nrounds = 6\nred.name = Cy Mast\nblue.name = Dee Keel\n"

static char folder[256], path[300];

void fuzz_fail(const char *what, const char *detail)
{
    fprintf(stderr, "fuzz: %s: %s\n", what, detail);
    abort();
}

void fuzz_check(int code, const struct error *err)
{
    if ((code != 0) != (err->text[0] != '\0') || strchr(err->text, '\n')) {
        fuzz_fail("a refusal is one line", err->text);
    }
}

static int remove_one(const char *name, const struct stat *info, int type, struct FTW *at)
{
    (void)info;
    (void)type;
    (void)at;
    return remove(name);
}

static void clean_up(void)
{
    nftw(folder, remove_one, 8, FTW_DEPTH | FTW_PHYS);
}

const char *fuzz_folder(void)
{
    if (!folder[0]) {
        snprintf(folder, sizeof folder, "%s/ringtally-fuzz-XXXXXX",
                 access("/dev/shm", W_OK) == 0 ? "/dev/shm" : "/tmp");
        if (!mkdtemp(folder) || atexit(clean_up)) {
            fuzz_fail("folder", folder);
        }
    }
    return folder;
}

static void put_desk(struct log *log, const struct bout *bout, const char *who)
{
    struct error err = {0};
    struct desk_open how = {who, 3, false};
    struct desk_row *desks = NULL;
    struct entry entries[16];
    int count = 0, self = 0;
    int code = data_desk_open(log, bout, &how, &desks, &count, &self, &err);
    for (int i = 0; !code && i < 16; i++) {
        entries[i] = (struct entry){.name = {self, i + 1},
                                    .subject = {self, i + 1},
                                    .undoes = ENTRY_NONE,
                                    .utc_ms = 1700000000000 + i * 400,
                                    .at_ms = 1700000000000 + i * 400,
                                    .kind = ENTRY_STRIKE,
                                    .round = 1};
        entries[i].strike.corner = (uint8_t)(i % 2);
        entries[i].strike.limb = (uint8_t)(i % 4);
        entries[i].strike.outcome = (uint8_t)(i % 3 == 0);
        if (i < 3) {
            entries[i].kind = ENTRY_OFFICIAL;
            entries[i].code = (uint8_t)(CODE_RED + i);
            entries[i].strike = (struct strike){0};
        } else if (i == 3 || i == 12) {
            entries[i].kind = ENTRY_CLOCK;
            entries[i].code = i == 3 ? CODE_START : CODE_STOP;
            entries[i].strike = (struct strike){0};
        } else if (i == 9) {
            entries[i].act = ACT_AMEND;
            entries[i].subject = (struct entry_name){self, i};
            entries[i].strike = entries[i - 1].strike;
        }
    }
    code = code ? code : log_append(log, desks, entries, 16, &err);
    if (code) {
        fuzz_fail("database", err.text);
    }
    free(desks);
}

const char *fuzz_database(void)
{
    struct log *log = NULL;
    struct error err = {0};
    struct card card = {0};
    struct bout bout;
    if (path[0]) {
        return path;
    }
    snprintf(path, sizeof path, "%s/sound.db", fuzz_folder());
    int code = log_open(&log, path, LOG_CREATE, NULL, &err);
    code = code ? code : card_parse(&card, CARD, strlen(CARD), "card", &err);
    code = code ? code : log_card_save(log, &card, &err);
    code = code ? code : log_bout_find(log, "1", &bout, &err);
    if (code) {
        fuzz_fail("database", err.text);
    }
    put_desk(log, &bout, "ana");
    put_desk(log, &bout, "ben");
    card_release(&card);
    log_close(log);
    return path;
}
