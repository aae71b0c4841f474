/* power.c: the power goes, at any moment of an evening, and again while what is left is opened.
 *
 * power [IMAGES [SEED]]: tries that many images of disks. */
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

#include <sqlite3.h>

#include "ringtally/base/file.h"
#include "ringtally/log/portable.h"
#include "evening.h"

#define VERSIONS 20

static struct {
    char base[200], image[256], second[256];
    bool careless;
    size_t images, again, by_loss[LOSS_COUNT];
    bool lying; /* losses are expected, and not told */
} tried;

static int ask(const char *path, const char *text, struct error *err)
{
    sqlite3 *db = NULL;
    sqlite3_stmt *row = NULL;
    int code = 0;
    if (sqlite3_open(path, &db) || sqlite3_prepare_v2(db, text, -1, &row, NULL) ||
        sqlite3_step(row) != SQLITE_ROW ||
        strcmp((const char *)sqlite3_column_text(row, 0), "ok") != 0) {
        code = error_set(err, ERROR_FAILED, "%s: %s", text, sqlite3_errmsg(db));
    }
    sqlite3_finalize(row);
    sqlite3_close(db);
    return code;
}

static int is_sound(const char *path, struct error *err)
{
    int code = ask(path, "PRAGMA integrity_check", err);
    return code ? code
                : ask(path,
                      "SELECT CASE count(*) WHEN 0 THEN 'ok' END FROM pragma_foreign_key_check",
                      err);
}

/* All that is in a database, and that it is sound. */
static int read_all(struct facts *found, const char *path, char *title, size_t size,
                    enum log_mode mode, struct error *err)
{
    struct log *log = NULL;
    struct card card = {0};
    char(*ids)[48] = NULL;
    size_t count = 0;
    int code = log_open(&log, path, mode, NULL, err);
    code = code ? code : log_card_ids(log, &ids, &count, err);
    if (!code && count > 0) {
        code = log_card_get(log, ids[0], &card, err);
        snprintf(title, size, "%s", card.title);
        card_release(&card);
    }
    free(ids);
    code = code ? code : facts_read(found, log, 0, 0, 0, err);
    log_close(log);
    return code ? code : is_sound(path, err);
}

static int check_title(const struct evening *evening, const char *title, size_t moment,
                       struct error *err)
{
    bool first = strcmp(title, EVENING_TITLE) == 0;
    bool second = strcmp(title, EVENING_SECOND) == 0;
    if (evening->renamed[1] == NEVER) {
        return 0;
    }
    if ((!title[0] && evening->made <= moment) || (title[0] && !first && !second) ||
        (second && evening->renamed[0] > moment) || (!second && evening->renamed[1] <= moment)) {
        return error_set(err, ERROR_FAILED, "the card's title is \"%s\"", title);
    }
    return 0;
}

/* A rescue file that was called written is there, whole. */
static int check_rescue(const struct evening *evening, const char *folder, size_t moment,
                        struct error *err)
{
    char path[512];
    char *text = NULL;
    size_t size = 0, added = 0;
    if (evening->rescue.done > moment) {
        return 0;
    }
    snprintf(path, sizeof path, "%s/%s", folder, evening->rescue.name);
    int code = file_read(&text, &size, path, err);
    code = code ? code : portable_load(NULL, text, size, path, &added, err);
    free(text);
    return code;
}

/* A backup is there whole or not at all, and is there once it was called made. */
static int check_copy(struct evening *evening, const char *folder, size_t moment, struct error *err)
{
    char path[512], title[96] = "";
    struct facts found = {0};
    snprintf(path, sizeof path, "%s/%s", folder, evening->copy.name);
    if (!evening->copy.name[0] || access(path, F_OK)) {
        return evening->copy.done <= moment
                   ? error_set(err, ERROR_FAILED, "the backup is not there")
                   : 0;
    }
    int code = read_all(&found, path, title, sizeof title, LOG_READ, err);
    /* It has all that was in the database when it was begun. */
    code = code ? code : facts_hold(&evening->facts, &found, evening->copy.begun, err);
    facts_release(&found);
    return code;
}

/* What the disk holds is what the moment allows. */
static int check(struct evening *evening, const char *folder, size_t moment, struct error *err)
{
    char path[512], title[96] = "";
    struct facts found = {0};
    snprintf(path, sizeof path, "%s/%s", folder, evening->db);
    int code = read_all(&found, path, title, sizeof title,
                        evening->made <= moment ? LOG_WRITE : LOG_CREATE, err);
    code = code ? code : check_title(evening, title, moment, err);
    code = code ? code : facts_hold(&evening->facts, &found, moment, err);
    code = code ? code : check_rescue(evening, folder, moment, err);
    facts_release(&found);
    return code ? code : check_copy(evening, folder, moment, err);
}

/* The desk goes on; and the power goes again at a moment of all that. */
static int go_on(struct evening *evening, size_t moment, uint64_t *seed, struct error *err)
{
    char path[512];
    struct evening after = {.made = 0, .renamed = {NEVER, NEVER}};
    after.rescue.done = after.copy.done = NEVER;
    snprintf(after.db, sizeof after.db, "%s", evening->db);
    snprintf(path, sizeof path, "%s/%s", tried.image, evening->db);
    disk_record(tried.image);
    int code = check(evening, tried.image, moment, err); /* the recovery is in there */
    size_t recovered = disk_now();
    bool there = evening->made <= moment;
    struct log *log = NULL;
    if (!code && there) {
        code = log_open(&log, path, LOG_READ, NULL, err);
        code = code ? code : facts_read(&after.facts, log, 0, 0, 0, err);
        log_close(log);
        code = code ? code : evening_resume(path, &after.facts, true, err);
    }
    size_t ended = disk_now();
    after.disk = disk_stop();
    for (int i = 0; !code && there && i < 2; i++) {
        size_t cut = (size_t)disk_draw(seed, i ? recovered + 1 : ended + 1);
        enum disk_loss loss = (enum disk_loss)disk_draw(seed, LOSS_COUNT);
        evening_clear(tried.second, true);
        disk_build(after.disk, cut, loss, tried.careless, disk_draw(seed, 0) + 1, tried.second);
        code = check(&after, tried.second, cut, err);
        tried.again++;
    }
    facts_release(&after.facts);
    disk_free(after.disk);
    return code;
}

static bool try_image(struct evening *evening, size_t moment, enum disk_loss loss, uint64_t seed)
{
    struct error err = {0};
    uint64_t draw = seed;
    evening_clear(tried.image, true);
    disk_build(evening->disk, moment, loss, tried.careless, seed, tried.image);
    tried.images++;
    tried.by_loss[loss]++;
    if (go_on(evening, moment, &draw, &err)) {
        if (tried.lying) {
            return false;
        }
        printf("%s: power gone before call %zu of %zu, %s, %s, seed %llu: %s\n", evening->what,
               moment, evening->disk->count, disk_loss_names[loss],
               tried.careless ? "careless sectors" : "whole sectors", (unsigned long long)seed,
               err.text);
        return false;
    }
    return true;
}

/* Every sync, just before and after it, and moments between. */
static size_t pick_moment(const struct disk *disk, uint64_t *seed)
{
    size_t at = (size_t)disk_draw(seed, disk->count + 1);
    if (disk_draw(seed, 3)) {
        while (at < disk->count && disk->ops[at].call != DISK_SYNC) {
            at++;
        }
        at += at < disk->count ? (size_t)disk_draw(seed, 2) : 0;
    }
    return at;
}

static int try_evening(struct evening *evening, size_t images, uint64_t *seed)
{
    int failed = 0;
    for (size_t i = 0; i < images; i++) {
        size_t moment = pick_moment(evening->disk, seed);
        enum disk_loss loss = (enum disk_loss)(i % LOSS_COUNT);
        failed += !try_image(evening, moment, loss, disk_draw(seed, 0) + 1);
        if (failed) {
            break; /* its image stays */
        }
    }
    return failed;
}

/* SQLite's own layer, without the promise that a write spares what stands beside it: it then fills
 * up to whole sectors. */
static struct {
    const sqlite3_io_methods *of;
    sqlite3_io_methods methods;
} careless[8]; /* by its methods, which differ between databases and journals */
static sqlite3_vfs careless_vfs;

static int traits(sqlite3_file *file)
{
    (void)file;
    return 0;
}

static int careless_open(sqlite3_vfs *vfs, const char *path, sqlite3_file *file, int flags,
                         int *out)
{
    int result = ((sqlite3_vfs *)vfs->pAppData)->xOpen(vfs->pAppData, path, file, flags, out);
    int at = 0;
    while (careless[at].of && careless[at].of != file->pMethods) {
        at++;
    }
    if (result == SQLITE_OK && !careless[at].of) { /* the first of all is alone yet */
        careless[at].methods = *file->pMethods;
        careless[at].methods.xDeviceCharacteristics = traits;
        careless[at].of = file->pMethods;
    }
    if (result == SQLITE_OK) {
        file->pMethods = &careless[at].methods;
    }
    return result;
}

static void be_careless(bool so)
{
    if (!careless_vfs.pAppData) {
        sqlite3_vfs *real = sqlite3_vfs_find(NULL);
        careless_vfs = *real;
        careless_vfs.zName = "careless";
        careless_vfs.pNext = NULL;
        careless_vfs.pAppData = real;
        careless_vfs.xOpen = careless_open;
        sqlite3_vfs_register(&careless_vfs, 0);
    }
    tried.careless = so;
    sqlite3_vfs_register(so ? &careless_vfs : careless_vfs.pAppData, 1);
}

static int try_all(size_t images, uint64_t seed)
{
    int failed = 0;
    struct evening evening;
    /* Both kinds of disk at least once. */
    for (int turn = 0; !failed && (turn < 2 || tried.images + tried.again < images); turn++) {
        be_careless(turn % 2);
        evening_play(&evening, tried.base, seed + (uint64_t)turn);
        failed += try_evening(&evening, images < 1000 ? 25 : 150, &seed);
        evening_release(&evening);
        for (int version = 1; !failed && version < VERSIONS; version++) {
            if (evening_migrate(&evening, tried.base, version)) {
                failed += try_evening(&evening, images < 1000 ? 8 : 30, &seed);
                evening_release(&evening);
            }
        }
    }
    return failed;
}

/* That these tests notice a loss: on a disk that lies they find one. */
static int try_liar(uint64_t seed)
{
    struct evening evening;
    int found = 0;
    disk_lie(10);
    be_careless(false);
    tried.lying = true;
    evening_play(&evening, tried.base, seed);
    for (int i = 0; i < 10; i++) {
        found += try_evening(&evening, 20, &seed);
    }
    evening_release(&evening);
    printf("on a disk that lies about one sync in ten: %s\n",
           found ? "losses are found" : "NO loss is found");
    return found ? 0 : 1;
}

int main(int argc, char **argv)
{
    size_t images = argc > 1 ? strtoul(argv[1], NULL, 10) : 300;
    uint64_t seed = argc > 2 ? strtoull(argv[2], NULL, 10) : 7;
    const char *base = getenv("TMPDIR");
    base = base ? base : access("/dev/shm", W_OK) == 0 ? "/dev/shm" : "/tmp";
    snprintf(tried.base, sizeof tried.base, "%s/ringtally-power-XXXXXX", base);
    if (!mkdtemp(tried.base)) {
        perror(tried.base);
        return 1;
    }
    snprintf(tried.image, sizeof tried.image, "%s/image", tried.base);
    snprintf(tried.second, sizeof tried.second, "%s/second", tried.base);
    mkdir(tried.image, 0700);
    mkdir(tried.second, 0700);
    int failed = try_all(images, seed);
    printf("%zu images of a disk, and %zu of one that lost its power again while the first was "
           "opened: %d bad\n",
           tried.images, tried.again, failed);
    for (int i = 0; i < LOSS_COUNT; i++) {
        printf("  %6zu %s\n", tried.by_loss[i], disk_loss_names[i]);
    }
    failed = failed ? failed : try_liar(seed);
    if (failed) {
        printf("what is left of the last: %s\n", tried.base);
        return 1;
    }
    evening_clear(tried.base, false);
    return 0;
}
