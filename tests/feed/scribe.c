/* scribe.c: a desk without a console, for the tests of the feed: takes commands, writes entries.
 *
 * usage: scribe DB BOUT OPERATOR [CARD.ini]   loads the card first where one is named
 *
 * A command a line; each is answered "ok ENTRIES" once its entries are durable, or "no REASON":
 *   start            the round clock of the next round
 *   stop
 *   strike CORNER LIMB TARGET OUTCOME
 *   many N           strikes of all sorts
 *   void             the newest strike
 *   knockdown        marks the newest strike as one
 *   down CORNER      the incident
 *   note TEXT
 *   hang             leaves no sign of life any more
 *   quit             in order; the end of the input does the same
 */
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include "ringtally/base/file.h"
#include "ringtally/log/keeper.h"
#include "ringtally/log/signs.h"
#include "ringtally/base/text.h"
#include "ringtally/base/when.h"

struct scribe {
    struct log *log;
    struct keeper *keeper;
    struct desk_row *desks;
    int desk_count, self;
    int64_t seq, at_ms, started_ms;
    int round;
    struct entry last;
};

static int give(struct scribe *scribe, struct entry *entry, bool add)
{
    int64_t now = when_now();
    scribe->at_ms = now > scribe->at_ms ? now : scribe->at_ms;
    entry->name = (struct entry_name){scribe->self, ++scribe->seq};
    entry->subject = add ? entry->name : entry->subject;
    entry->undoes = ENTRY_NONE;
    entry->utc_ms = scribe->at_ms;
    if (add) { /* a correction speaks of its subject's moment */
        entry->at_ms = scribe->at_ms;
        entry->round = (uint8_t)(scribe->round ? scribe->round : 1);
        entry->elapsed_ms =
            scribe->started_ms ? (int32_t)((scribe->at_ms - scribe->started_ms) % 180000) : 0;
    }
    return keeper_give(scribe->keeper, entry, 1);
}

static int official(struct scribe *scribe)
{
    static const uint8_t codes[] = {CODE_RED, CODE_BLUE, CODE_CLOCK};
    int code = 0;
    for (size_t i = 0; i < sizeof codes && !code; i++) {
        struct entry entry = {.kind = ENTRY_OFFICIAL, .code = codes[i]};
        code = give(scribe, &entry, true);
    }
    return code;
}

static int strike(struct scribe *scribe, int corner, int limb, int target, int outcome)
{
    struct entry entry = {.kind = ENTRY_STRIKE,
                          .strike = {.corner = (uint8_t)corner,
                                     .limb = (uint8_t)limb,
                                     .target = (uint8_t)target,
                                     .outcome = (uint8_t)outcome}};
    int code = give(scribe, &entry, true);
    scribe->last = entry;
    return code;
}

static int many(struct scribe *scribe, int count)
{
    static const uint8_t limbs[] = {LIMB_LEFT_HAND, LIMB_RIGHT_HAND, LIMB_LEFT_LEG, LIMB_RIGHT_LEG};
    int code = 0;
    for (int i = 0; i < count && !code; i++) {
        int limb = limbs[i % 4];
        code = strike(scribe, i % 2, limb, i / 4 % (limb < LIMB_LEFT_LEG ? 2 : 3), i % 3 == 0);
    }
    return code;
}

static const char *strike_line(struct scribe *scribe, char *line)
{
    char words[4][24];
    if (sscanf(line, "strike %23s %23s %23s %23s", words[0], words[1], words[2], words[3]) != 4) {
        return "four words";
    }
    int corner = name_index(corner_names, CORNER_COUNT, words[0]);
    int limb = name_index(limb_names, LIMB_COUNT, words[1]);
    int target = name_index(target_names, TARGET_COUNT, words[2]);
    int outcome = name_index(outcome_names, OUTCOME_COUNT, words[3]);
    if (corner < 0 || limb < 0 || target < 0 || outcome < 0) {
        return "no such word";
    }
    return strike(scribe, corner, limb, target, outcome) ? "memory" : NULL;
}

static const char *clock_line(struct scribe *scribe, bool start)
{
    struct entry entry = {.kind = ENTRY_CLOCK, .code = start ? CODE_START : CODE_STOP};
    if (start) {
        scribe->round++;
        scribe->started_ms = when_now();
        scribe->at_ms = scribe->started_ms > scribe->at_ms ? scribe->started_ms : scribe->at_ms;
        scribe->started_ms = scribe->at_ms;
    }
    return give(scribe, &entry, true) ? "memory" : NULL;
}

static const char *void_line(struct scribe *scribe)
{
    struct entry entry = scribe->last;
    entry.act = ACT_VOID;
    entry.subject = scribe->last.name;
    return scribe->last.name.seq == 0    ? "no strike yet"
           : give(scribe, &entry, false) ? "memory"
                                         : NULL;
}

static const char *knockdown_line(struct scribe *scribe)
{
    struct entry entry = scribe->last;
    entry.act = ACT_REFINE;
    entry.subject = scribe->last.subject;
    entry.strike.technique |= TECHNIQUE_KNOCKDOWN;
    return scribe->last.name.seq == 0    ? "no strike yet"
           : give(scribe, &entry, false) ? "memory"
                                         : NULL;
}

static const char *down_line(struct scribe *scribe, const char *word)
{
    int corner = name_index(corner_names, CORNER_COUNT, word);
    struct entry entry = {.kind = ENTRY_INCIDENT, .code = CODE_KNOCKED_DOWN};
    entry.strike.corner = (uint8_t)(corner < 0 ? 0 : corner);
    return corner < 0 ? "no such word" : give(scribe, &entry, true) ? "memory" : NULL;
}

/* Why the command was not done, or NULL. */
static const char *obey(struct scribe *scribe, char *line)
{
    struct entry note = {.kind = ENTRY_NOTE};
    if (strcmp(line, "start") == 0 || strcmp(line, "stop") == 0) {
        return clock_line(scribe, line[2] == 'a');
    }
    if (strncmp(line, "strike ", 7) == 0) {
        return strike_line(scribe, line);
    }
    if (strncmp(line, "many ", 5) == 0) {
        return many(scribe, atoi(line + 5)) ? "memory" : NULL;
    }
    if (strcmp(line, "void") == 0) {
        return void_line(scribe);
    }
    if (strcmp(line, "knockdown") == 0) {
        return knockdown_line(scribe);
    }
    if (strncmp(line, "down ", 5) == 0) {
        return down_line(scribe, line + 5);
    }
    if (strncmp(line, "note ", 5) == 0) {
        return !text_clean(note.text, sizeof note.text, line + 5) || give(scribe, &note, true)
                   ? "no text"
                   : NULL;
    }
    return "no such command";
}

static int open_desk(struct scribe *scribe, char **argv, const char *card_path, struct error *err)
{
    struct card card = {0};
    struct bout bout = {0};
    struct desk_row row = {.corners = 3, .opened_ms = when_now()};
    char *text = NULL;
    size_t size = 0;
    int code = log_open(&scribe->log, argv[1], LOG_CREATE, NULL, err);
    if (!code && card_path) {
        code = file_read(&text, &size, card_path, err);
        code = code ? code : card_parse(&card, text, size, card_path, err);
        code = code ? code : log_card_save(scribe->log, &card, err);
        card_release(&card);
        free(text);
    }
    snprintf(row.operator_, sizeof row.operator_, "%s", argv[3]);
    code = code ? code : log_bout_find(scribe->log, argv[2], &bout, err);
    code = code ? code : log_desk_new(scribe->log, bout.id, &row, 0, err);
    code = code ? code : log_desk_claim(scribe->log, row.id, err);
    code = code ? code : log_desks(scribe->log, bout.id, &scribe->desks, &scribe->desk_count, err);
    if (code) {
        return code;
    }
    scribe->self = scribe->desk_count - 1;
    code = keeper_open(&scribe->keeper, argv[1], NULL, bout.id, scribe->desks, scribe->desk_count,
                       0, -1, err);
    if (!code) {
        signs_leave(scribe->log, row.id, when_now(), false, NULL);
        keeper_sign(scribe->keeper, row.id);
        code = official(scribe);
    }
    return code;
}

int main(int argc, char **argv)
{
    struct scribe scribe = {0};
    struct error err = {0};
    int64_t left = 0;
    size_t left_count = 0;
    char line[512];
    if (argc != 4 && argc != 5) {
        fputs("usage: scribe DB BOUT OPERATOR [CARD.ini]\n", stderr);
        return 2;
    }
    int code = open_desk(&scribe, argv, argc == 5 ? argv[4] : NULL, &err);
    bool more = !code && keeper_flush(scribe.keeper, 10000);
    if (more) {
        puts("ready");
        fflush(stdout);
    }
    while (more && fgets(line, sizeof line, stdin)) {
        line[strcspn(line, "\n")] = '\0';
        if (strcmp(line, "quit") == 0) {
            break;
        }
        if (strcmp(line, "hang") == 0) {
            keeper_sign(scribe.keeper, 0);
            puts("ok");
        } else {
            const char *why = obey(&scribe, line);
            bool saved = keeper_flush(scribe.keeper, 10000);
            if (why || !saved) {
                printf("no %s\n", why ? why : "not saved");
            } else {
                printf("ok %lld\n", (long long)scribe.seq);
            }
        }
        fflush(stdout);
    }
    keeper_close(scribe.keeper, &left, &left_count);
    free(scribe.desks);
    log_close(scribe.log);
    if (code) {
        fprintf(stderr, "scribe: %s\n", err.text);
    }
    return code ? 1 : 0;
}
