/* tamper_bytes.c: bytes of a database's file changed one at a time, and what is told of the bout.
 *
 * usage: tamper_bytes DB BOUT BYTES    DB: a signed bout, nobody at it, no -wal file beside
 *
 * BYTES are tried, evenly spread with a seeded jitter; `all`: every one. Each change is either told
 * (the file is refused, or verify names what is off), or all that is said of the bout, by every
 * sheet and list in every form, is byte for byte what it was. Prints "AT told|views|silent" a byte;
 * ends with 1 where a change went unnoticed. The bytes are put back. */
#include <fcntl.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include "ringtally/base/file.h"
#include "ringtally/data/data.h"
#include "ringtally/log/portable.h"
#include "ringtally/log/log_watch.h"
#include "ringtally/log/seal.h"
#include "ringtally/log/verify.h"
#include "ringtally/sheet/log_sheet.h"
#include "ringtally/sheet/sheet.h"
#include "ringtally/tally/officials.h"

#define NOW 1700000600000 /* what depends on the moment of writing shall not differ */

static void stop(const char *what, const char *why)
{
    fprintf(stderr, "tamper_bytes: %s: %s\n", what, why);
    exit(2);
}

/* The log as it leaves, seals and all. */
static int add_export(struct buf *out, struct reading *reading, struct error *err)
{
    struct log_news news = {0};
    struct log_seal *seals = NULL;
    size_t seal_count = 0;
    int code = log_news(reading->log, reading->bout.id, 0, &news, err);
    code = code ? code : log_seals(reading->log, reading->bout.id, &seals, &seal_count, err);
    struct portable portable = {&reading->card, &reading->bout,   news.desks, news.desk_count,
                                news.entries,   news.entry_count, seals,      seal_count};
    code = code ? code : portable_write(out, &portable, err);
    log_seals_free(seals, seal_count);
    log_news_release(&news);
    return code;
}

/* All that is said of the bout, one after the other. */
static int add_all(struct buf *out, struct reading *reading, struct error *err)
{
    struct sheet_view view = reading->view;
    struct log_sheet_view log = {&reading->bout, reading->fold, 0, true, false};
    struct officials officials;
    const struct desk_row *desks = NULL;
    int code = 0;
    view.now_ms = view.wall_ms = NOW;
    view.cards = true;
    for (int i = 0; i < fold_desks(reading->fold, &desks); i++) { /* ages are no part of it */
        reading->signs[i] = (struct desk_sign){.held = false};
    }
    for (int format = 0; format < SHEET_FORMATS && !code; format++) {
        code = sheet_write(out, &view, (enum sheet_format)format, err);
    }
    code = code ? code : officials_sheet(out, &view, SHEET_TEXT, err);
    code = code ? code : officials_sheet(out, &view, SHEET_JSON, err);
    code = code ? code : counts_json(out, &view, err);
    code = code ? code : counts_csv(out, &view, err);
    code = code ? code : counts_table(out, &view, err);
    code = code ? code : log_sheet_table(out, &log, err);
    code = code ? code : log_sheet_csv(out, &log, err);
    code = code ? code : log_sheet_json(out, &log, err);
    officials_read(&officials, reading->fold, &reading->rules, &reading->bout, NOW);
    scorecard_dump(out, &officials.card, &reading->bout);
    return code ? code : add_export(out, reading, err);
}

enum answer { TOLD, VIEWS, SAME, UNNOTICED };

/* `said`: what there is to compare with, or where that goes if it is empty. */
static enum answer ask(const char *db, const char *ref, struct buf *said)
{
    struct reading reading = {0};
    struct verified found = {0};
    struct buf faults = BUF_INIT, now = BUF_INIT;
    struct error err = {0};
    enum answer answer = SAME;
    int code = reading_open(&reading, db, ref, 0, &err);
    code =
        code ? code : verify_bout(reading.log, &reading.bout, reading.fold, &found, &faults, &err);
    code = code || faults.size ? code : verify_file(reading.log, &faults, &err);
    if (code || faults.size) {
        if (said->size == 0) {
            stop("as it came", code ? err.text : faults.text);
        }
        answer = TOLD;
    } else if (add_all(said->size ? &now : said, &reading, &err)) {
        answer = TOLD;
    } else if (now.size &&
               (now.size != said->size || memcmp(now.text, said->text, said->size) != 0)) {
        answer = UNNOTICED;
    } else if (found.views_differ) {
        answer = VIEWS;
    }
    buf_release(&now);
    buf_release(&faults);
    reading_release(&reading);
    return answer;
}

static uint32_t roll(uint64_t *seed, uint32_t sides)
{
    *seed = *seed * 6364136223846793005u + 1442695040888963407u;
    return (uint32_t)(*seed >> 33) % sides;
}

static void put(int fd, const char *byte, size_t at)
{
    if (pwrite(fd, byte, 1, (off_t)at) != 1) {
        stop("write", "failed");
    }
}

int main(int argc, char **argv)
{
    static const char *const words[] = {"told", "views", "silent", "UNNOTICED"};
    struct buf said = BUF_INIT;
    struct error err = {0};
    char *bytes = NULL;
    size_t size = 0;
    uint64_t seed = 3;
    int failed = 0;
    if (argc != 4) {
        stop("usage", "DB BOUT BYTES");
    }
    int fd = open(argv[1], O_RDWR | O_CLOEXEC);
    if (fd < 0 || file_read(&bytes, &size, argv[1], &err)) {
        stop(argv[1], err.text);
    }
    close(fd); /* and with it no lock of SQLite's: it is opened anew for each change */
    ask(argv[1], argv[2], &said);
    long tried = strtol(argv[3], NULL, 10);
    uint32_t step = strcmp(argv[3], "all") == 0 || tried < 1 || (size_t)tried >= size
                        ? 1
                        : (uint32_t)(size / (size_t)tried);
    for (size_t at = step > 1 ? roll(&seed, step) : 0;
         at<size; at += step> 1 ? 1 + roll(&seed, 2 * step - 1) : 1) {
        char changed = (char)(bytes[at] ^ (1 << roll(&seed, 8)));
        fd = open(argv[1], O_WRONLY | O_CLOEXEC);
        put(fd, &changed, at);
        close(fd);
        enum answer answer = ask(argv[1], argv[2], &said);
        printf("%zu %s\n", at, words[answer]);
        failed |= answer == UNNOTICED;
        fd = open(argv[1], O_WRONLY | O_CLOEXEC);
        put(fd, &bytes[at], at);
        close(fd);
    }
    if (ask(argv[1], argv[2], &said) != SAME) {
        stop("put back", "it is not what it was");
    }
    free(bytes);
    buf_release(&said);
    return failed;
}
