/* desk.h: one operator's session on one bout: keys in, entries out. No terminal, no disk, no clock
 * of its own: every call brings the moment.
 *
 * The desk folds what it writes and what other desks wrote, and keeps what the screen shows
 * besides: mode, notice, the cell just hit. It never draws.
 */
#ifndef RINGTALLY_DESK_DESK_H
#define RINGTALLY_DESK_DESK_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#include "ringtally/base/saved.h"
#include "ringtally/bout/sign.h"
#include "ringtally/tally/coverage.h"
#include "ringtally/tally/fold.h"
#include "ringtally/desk/keymap.h"
#include "ringtally/bout/rules.h"

struct desk; /* opaque */
struct reference;

struct desk_setup {
    struct bout bout;
    struct rules rules;
    struct keymap keymap;
    const struct desk_row *desks; /* all known, this one too; copied */
    int desk_count;
    int self;                    /* index of this desk; -1: it only watches and writes nothing */
    const struct entry *entries; /* logged so far; copied */
    size_t entry_count;
    bool own_clock; /* a shadow does not follow the official clock */
    bool recording; /* it tags from a recording: reel.h */
    uint8_t claim; /* corners (1 << corner) that this desk is to be official for from now on, and 4:
                      the clock */
};

#define DESK_PROMPT_MS 4000 /* that a prompt for a letter or a number stays open */

enum desk_mode {
    DESK_LIVE,
    DESK_INCIDENT, /* a letter is awaited; desk_prompt says which */
    DESK_FOUL,     /* the number of a foul is awaited */
    DESK_LOG,      /* walking the log; pad keys stay strikes unless the amend key opened an entry */
    DESK_INSERT,   /* in the log: the next pad key inserts a strike */
    DESK_JUMP,     /* in the log: where to is awaited */
    DESK_LOOKUP,   /* the next pad key asks */
    DESK_CARDS,    /* the judges' scores are typed */
    DESK_SETTLE,   /* what two desks say differently is walked through */
    DESK_OFFICES,  /* which office is taken over is awaited */
    DESK_RELIEF,   /* opened on a bout that another desk tags, or tagged: what is going on */
    DESK_CLOCK,    /* the clock is set by typing */
    DESK_END,      /* how the bout ended is entered */
    DESK_NOTE,     /* a note's words are typed */
    DESK_SYNC      /* the recording's time code at the moment of the key is typed */
};

/* What a key asks of the caller. */
enum desk_wants {
    DESK_WANTS_LEAVE = 1, /* told twice: end the session */
    DESK_WANTS_MOVE = 2   /* desk_move says what: end the session, then do it; or refuse */
};

enum desk_page {
    PAGE_BOUT,
    PAGE_READOUT, /* what is read out in a rest */
    PAGE_ROUNDS,
    PAGE_STANCE,
    PAGE_TAKEN,
    PAGE_TIMELINE,
    PAGE_REMARKS,
    PAGE_CHECK, /* the live count against the recording, where there is one */
    PAGE_COUNT
};

/* Opens the session at `now_ms`; where the log holds a running clock the notice says so. NULL: out
 * of memory. */
struct desk *desk_new(const struct desk_setup *setup, int64_t now_ms);
void desk_free(struct desk *desk);

/* A key, read at `now_ms`. `unsaved` = entries not durable yet (leaving then asks once more).
 * Returns desk_wants bits. */
unsigned desk_key(struct desk *desk, int32_t key, int64_t now_ms, int64_t unsaved);
/* The same, where the terminal knows more of the press than that it came. */
unsigned desk_press(struct desk *desk, int32_t key, enum key_press press, int64_t now_ms,
                    int64_t unsaved);
/* The machine's wall clock, by which `now_ms` goes, was set by so much: noted, and the round clock
 * shows no jump. */
void desk_stepped(struct desk *desk, int64_t by_ms, int64_t now_ms);
/* Time passes without a key: prompts fall back to live, a question that was answered is acted on.
 * Returns desk_wants bits. To be called at desk_next_change, too. */
unsigned desk_tick(struct desk *desk, int64_t now_ms);
/* Entries that are still made by keys which may go on: what arrows add up to. They are not saved.
 */
int desk_pending(const struct desk *desk);
/* The session ends: they are written as they are. */
void desk_finish(struct desk *desk, int64_t now_ms);
/* Keys that came at once, more than hands can type (DESK_BURST or more): held back until the turn
 * key logs them or Esc drops them. 0 or ERROR_MEMORY. */
#define DESK_BURST 24
int desk_hold(struct desk *desk, const int32_t *keys, size_t count, int64_t now_ms);
/* A pasted block of that many characters was refused. */
void desk_pasted(struct desk *desk, size_t characters, int64_t now_ms);
/* What other desks wrote (desk rows in index order, then entries). 0 or ERROR_MEMORY. */
int desk_learn(struct desk *desk, const struct desk_row *rows, int row_count,
               const struct entry *entries, size_t count, int64_t now_ms);

/* Signs of life of the desks, by their index. 0 or ERROR_MEMORY. */
int desk_hear_signs(struct desk *desk, const struct desk_sign *signs, int count, int64_t now_ms);
/* How much of what was written is durable. */
void desk_hear_saved(struct desk *desk, const struct saved_state *saved, int64_t now_ms);

/* What must not be missed by who has the eyes on the ring: the caller rings. Bits raised since the
 * last call. */
enum desk_alarm {
    ALARM_UNCOUNTED = 1, /* a key that does not count */
    ALARM_OFFICE = 2,    /* an office was lost, or nobody is there for one */
    ALARM_CLOCK = 4,     /* the clock stands while strikes come */
    ALARM_UNSAVED = 8,
    ALARM_KEYBOARD = 16 /* the wrong layout or case */
};
unsigned desk_alarms(struct desk *desk);
/* The clock is to be shown inverted at this moment, to flash. */
bool desk_flash(const struct desk *desk, int64_t now_ms);

/* Entries written since the last call, to be handed to the keeper; valid until the next desk_key or
 * desk_new. */
size_t desk_take(struct desk *desk, const struct entry **out);

/* For the screen. */
const struct bout *desk_bout(const struct desk *desk);
const struct rules *desk_rules(const struct desk *desk);
const struct keymap *desk_keymap(const struct desk *desk);
const struct fold *
desk_fold(const struct desk *desk); /* whose numbers this desk shows: the official ones, or its own
                                       where it is a shadow */
const struct desk_row *desk_self(const struct desk *desk);
bool desk_is_official(const struct desk *desk,
                      enum entry_code what); /* CODE_RED, CODE_BLUE, CODE_CLOCK */
struct clock_face desk_clock(const struct desk *desk, int64_t now_ms);
/* Running time of a round (0: of all) so far; of a recording as far as it was tagged. */
int64_t desk_ran(const struct desk *desk, int round, int64_t now_ms);
enum desk_mode desk_mode(const struct desk *desk);
enum corner desk_prompt(const struct desk *desk); /* whose incident is asked for */
enum desk_page desk_page(const struct desk *desk);
/* Whether the page keys come by it. */
bool desk_has_page(const struct desk *desk, enum desk_page page);
/* What PAGE_CHECK shows, as it was when strikes were last not coming; false: nothing. Valid until
 * the next key, tick or desk_learn. */
struct desk_check {
    const struct reference *reference;
    const char *by; /* the desk that tagged from the recording */
    size_t behind;  /* entries that came since */
};
bool desk_check(const struct desk *desk, struct desk_check *out);
bool desk_help(const struct desk *desk); /* the help is shown; keys stay live under it */
/* The notice, "" when none (it ends by itself). *urgent: to be shown inverted. */
const char *desk_notice(const struct desk *desk, int64_t now_ms, bool *urgent);
/* The pad cell last hit (corner, limb, target), while it is to be marked; false when not. */
bool desk_hit(const struct desk *desk, int64_t now_ms, struct strike *out);
/* Which entries DESK_LOG walks. The last two take their value from the entry under the cursor. */
enum desk_filter {
    FILTER_ALL,
    FILTER_LOOK, /* what wants a look: review.h */
    FILTER_FLAGGED,
    FILTER_RED,
    FILTER_BLUE,
    FILTER_LIMB,
    FILTER_TARGET,
    FILTER_COUNT
};
enum desk_filter desk_filter(const struct desk *desk);
/* Words for the filter: "all", "to look at", "red", "left leg" ... */
const char *desk_filter_words(const struct desk *desk);
/* How many entries want a look now, and their reasons by index into fold_subjects (fold_subjects
 * many). Valid until the next key or desk_learn. */
size_t desk_looks(const struct desk *desk, const uint8_t **reasons);
/* The record is signed: the desk takes no entries. */
bool desk_is_read_only(const struct desk *desk);

/* It only watches. */
bool desk_watches(const struct desk *desk);

/* Who is official for CODE_RED, CODE_BLUE or CODE_CLOCK. */
struct desk_office {
    const char *holder; /* "": nobody */
    bool own;
    enum sign_state state;
    int64_t seen_age_ms;  /* of its last sign of life; -1: not known */
    int64_t wrote_age_ms; /* of its newest entry; -1: it has none */
};
void desk_office(const struct desk *desk, enum entry_code what, int64_t now_ms,
                 struct desk_office *out);
/* How much of a round (0: of the bout) somebody was there to tag, as looked at within the last
 * second; NULL: not looked at yet. */
const struct coverage_part *desk_seen(const struct desk *desk, int round, enum corner corner);
/* What of the bout is in the database, while the newest `unsaved` entries of this session are not:
 * the strikes that count, and the entries of every desk. */
void desk_stored(const struct desk *desk, int64_t unsaved, long *strikes, long *entries);

/* Why DESK_RELIEF. */
enum desk_relief {
    RELIEF_NONE,
    RELIEF_WATCH, /* another desk tags: take over, or watch */
    RELIEF_TWICE, /* and it is the same operator's */
    RELIEF_TAKEN  /* this desk has taken over from one that was gone */
};
enum desk_relief desk_relief(const struct desk *desk);

/* In DESK_SYNC: what is typed so far, "01:02:__:__ at 25"; false in another mode. */
bool desk_sync(const struct desk *desk, char *out, size_t size);

/* In DESK_NOTE: what is typed so far, and of which corner; false in another mode. */
bool desk_note(const struct desk *desk, enum corner *corner, char *out, size_t size);
/* In DESK_CLOCK: what is set and to what, "2:05 left in round 1"; false in another mode. */
bool desk_clock_form(const struct desk *desk, int64_t now_ms, char *out, size_t size);
/* In DESK_END: what is entered so far, and which of desk_end_ways is chosen (-1: none); false in
 * another mode. The first ten ways have the digits 1 to 9 and 0. */
bool desk_end_form(const struct desk *desk, char *out, size_t size, int *at);
int desk_end_ways(const char *const **out);
/* How the bout ended, where it was entered: "knockout, red, round 2 1:47". */
bool desk_ended(const struct desk *desk, char *out, size_t size);

/* In DESK_SETTLE: the open differences between the official desk `a` and the other one `b`: how
 * many, and the one under the cursor (NULL: that desk has none). Left settles as a says, Right as b
 * says. 0 where none is open or in another mode. */
struct desk_difference {
    const char *a, *b;
    size_t at;
    const struct subject *of_a, *of_b;
};
size_t desk_settle(const struct desk *desk, struct desk_difference *out);

/* In DESK_CARDS: where the scores are typed. Two digits a judge, red's then blue's, 0 for ten; the
 * amend key adds a half. */
struct card_cursor {
    int seat, round; /* seat from 0 */
    int typed;       /* digits typed of this pair */
    int half[2];     /* of them, in half points */
    int last_seat;   /* whose pair was just completed */
    bool just_set;
};
/* False while the scorecards are closed. */
bool desk_cards(const struct desk *desk, struct card_cursor *out);
/* The count that runs after a knock-down or a standing count, 1 to 10 as the referee counts; 0:
 * none. */
int desk_count(const struct desk *desk, int64_t now_ms, enum corner *corner);

/* In DESK_LOG: how far what is put right reaches. */
enum log_range {
    RANGE_NONE,
    RANGE_HERE,  /* from the entry where it was begun to the cursor */
    RANGE_ROUND, /* the round of the entry under the cursor */
    RANGE_ALL,   /* all that is walked */
    RANGE_COUNT
};
enum log_range desk_range(const struct desk *desk);
/* Whether an entry of the list (its place in desk_log's) is within the range. */
bool desk_in_range(const struct desk *desk, size_t place);
/* The line of choices while a range is put right; false, and "", otherwise. */
bool desk_repair(const struct desk *desk, char *out, size_t size);
/* What of this bout is to go to another one of its card. */
struct desk_move {
    int number;                 /* of the other bout */
    int round;                  /* 0: all */
    int corner;                 /* CORNER_NONE: both */
    int64_t since_ms, until_ms; /* UTC, the end not included; -1: no bound */
};
/* False: nothing is asked for. */
bool desk_move(const struct desk *desk, struct desk_move *out);
/* It cannot be done: the desk stays open. */
void desk_move_refused(struct desk *desk, const char *why, int64_t now_ms);
/* The amend key has opened the entry under the cursor: one pad key or mark goes to it. */
bool desk_amends(const struct desk *desk);

/* In DESK_JUMP: where the digits lead to, "round 2, 1:30 left"; false while none are typed. */
bool desk_jump(const struct desk *desk, char *out, size_t size);
/* In DESK_LOG: the entries that are walked, newest moment first, as indexes into
 * fold_subjects(desk_fold). Valid until the next key or desk_learn. *cursor = place in *out of the
 * one under the cursor; -1: none. */
size_t desk_log(const struct desk *desk, const long **out, long *cursor);
/* In DESK_LOOKUP: the cell asked for; false before a pad key. */
bool desk_lookup(const struct desk *desk, struct strike *out);
/* When the screen next changes by itself (clock second, end of a mark or a notice); INT64_MAX:
 * never. */
int64_t desk_next_change(const struct desk *desk, int64_t now_ms);

#endif
