/* session.h: inside of a desk; shared by the files of this room only. */
#ifndef RINGTALLY_SESSION_H
#define RINGTALLY_SESSION_H

#include "desk/repeat.h"
#include "ringtally/insight/reference.h"
#include "ringtally/desk/desk.h"
#include "ringtally/desk/reel.h"

/* The entries of one keystroke: one desk's numbers first..last, one place in the order. */
struct span {
    int32_t desk; /* -1: none */
    int64_t first, last;
    int64_t utc_ms;
};
#define SPAN_NONE ((struct span){-1, 0, 0, 0})

/* A keystroke that can be taken back: what it wrote, and what took it back. */
struct step {
    struct span wrote, undo;
};

struct steps {
    struct step *step;
    size_t count, room;
};

/* A time code being typed. */
struct sync_typing {
    int64_t at_ms; /* when the key was pressed */
    int rate;      /* index into timecode_rates */
    char digit[8];
    int typed;
};

/* An action that wants its key pressed again. The second press counts only when no third follows at
 * once: a held key never answers. */
struct question {
    enum action action; /* ACTION_NONE: none is asked */
    int64_t until_ms;   /* an answer later than this is a new question */
    int64_t answer_ms;  /* the second press is taken then, by the passing of time; 0: none yet */
    int asked;          /* how often in a row */
};

/* What a stroke did, for when it turns out to have been a repeat. */
#define STROKES 3
struct stroke {
    enum action action;
    bool wrote;
};

/* In the log: what the amend key has opened. */
struct amending {
    bool open;              /* the next pad key or mark amends the entry under the cursor */
    struct entry_name from; /* the other end of a range; none: no range */
    enum log_range range;
    bool repair; /* the range's repairs are offered, by digit */
    int shift;   /* seconds typed for a shift in time; INT_MIN: not asked */
    bool moves;  /* the number of another bout is typed: */
    int bout;
};

/* Where to in the log: jump_keys.c. */
#define JUMP_DIGITS 5 /* RRMSS */
struct jump {
    uint8_t digit[JUMP_DIGITS];
    int typed;
};

/* Signs that the keyboard is not as the hands believe: typo.c. */
#define TYPOS 16
struct typo {
    int free_keys;      /* without a meaning, in a row */
    int32_t key[TYPOS]; /* they, the newest last */
    int64_t at_ms[TYPOS];
    int shifted;                  /* landed strikes by a letter key in a row */
    struct entry_name run[TYPOS]; /* they, the newest last */
    int strikes, landed;          /* of this session, for how usual that is */
    bool told;
};

/* A note's words being typed: note_keys.c. */
struct note_typing {
    struct entry_name of;
    char text[TEXT_BYTES];
};

#define OFFICES 3 /* red, blue, the clock */

/* Who is official for what, as last told: office_keys.c. */
struct offices_seen {
    int holder[OFFICES];    /* root; -1: nobody */
    uint8_t untended;       /* 1 << office: its desk is known to be gone */
    struct desk_sign *sign; /* by desk; owned */
    int signs;
    int64_t heard_ms;
    int64_t blind_until_ms; /* signs are older than that the wall clock was set */
    int64_t told_ms;        /* when that something is untended last rang */
    char standing[240];     /* what is said as long as it is so */
    enum desk_relief relief;
};

#define OFF_CLOCK 3 /* strikes on a clock that stands before it rings */

/* alarm.c */
struct alarms {
    unsigned raised; /* enum desk_alarm, not yet taken */
    int64_t flash_until_ms;
    int64_t off_clock_ms[OFF_CLOCK]; /* the newest first; 0: none */
    int64_t unsaved_told_ms;
};

/* What was seen of the bout, as last looked at: seen.c. */
struct seen {
    struct coverage coverage;
    int64_t look_ms; /* when to look again; 0: never looked */
};

/* Keys that came at once: burst.c. */
struct burst {
    int32_t *key; /* owned */
    size_t count, room;
    int64_t at_ms;
    char words[120];
};

/* The hand on the clock: clock_keys.c. */
struct clock_hand {
    int64_t asked_ms;       /* when a second press was asked for: the round began then */
    int64_t guessed_ms;     /* the stop that was taken for the bell, once */
    int32_t nudge_ms;       /* pressed by arrows and not written yet */
    int64_t nudge_until_ms; /* it is written then */
    int64_t unheard_ms; /* by which the wall clock was set, and the desk with the clock has not said
                           so yet; until: */
    int64_t unheard_until_ms;
};

/* The clock being set: clock_form_keys.c. */
enum clock_field {
    CLOCK_FIELD_REST,  /* what is left of it */
    CLOCK_FIELD_ROUND, /* the same */
    CLOCK_FIELD_LATE,  /* how late the round was started, or how long ago it began */
    CLOCK_FIELDS
};
struct clock_form {
    enum clock_field field;
    uint8_t digit[4];
    int typed;
    int64_t value_ms; /* -1: as it stands */
};

/* How the bout ended, being entered: end_keys.c. */
struct end_form {
    int at; /* among the ways; -1: not said */
    enum corner corner;
    int round;
    int32_t elapsed_ms; /* -1: not said */
    int typed, number;  /* digits of the time */
    int64_t at_ms;      /* when the form was opened: the clock stands from then on */
    int64_t odd_ms;     /* when Enter was refused as odd; 0: it was not */
    bool overridden;
    struct entry_name of; /* the entry that says it already; none: none */
};

/* Beside a player: reel.c. */
#define REEL_WISHES 8
struct reel {
    bool on;          /* the desk tags from a recording: its moments are media time */
    bool attached;    /* a player was heard of */
    bool open;        /* the recording is known, and what is tagged can be placed */
    bool guessed;     /* the player did not say where it is at this key */
    int64_t zero_ms;  /* of the first frame, on the desk's clock */
    int64_t media_ms; /* of the frame on screen; -1: not known */
    struct recording recording;
    struct reel_seen seen;
    struct reel_wish wish[REEL_WISHES];
    size_t wishes;
    bool has_double; /* a strike waits to be kept as a second one */
    struct strike doubled;
    int64_t double_ms; /* of the recording */
    int64_t unseen_ms; /* place in the order of what nobody saw live and was gone to last */
    int64_t look_ms, look_media_ms; /* a second look: when it began, and where; 0: none is on */
};

/* The live count against the recording, as last looked at: check.c. */
struct checking {
    struct reference *reference; /* owned; NULL: there is none */
    size_t entries;              /* that were known then */
    int root;                    /* of the recording's desk */
};

struct desk {
    struct bout bout;
    struct rules rules;
    struct keymap keymap;
    int self, root;    /* index of this desk, and of the first of its chain */
    struct fold *fold; /* the official view */
    struct fold *own;  /* this desk's view alone; NULL unless it is a shadow */
    int64_t next_seq;
    int64_t stroke_utc_ms; /* place in the order of what this keystroke writes; 0: not chosen */
    int64_t unsaved;       /* as the caller last said */
    struct entry *fresh;   /* written since desk_take */
    size_t fresh_count, fresh_room;
    struct steps done, undone;

    enum desk_mode mode;
    int64_t mode_until_ms; /* a prompt falls back to live then; 0: stays */
    enum corner prompt;
    enum desk_page page;
    bool help;
    struct entry_name cursor; /* in DESK_LOG */
    long *order; /* what DESK_LOG walks: indexes into the subjects, newest moment first */
    size_t order_count, order_room;
    uint8_t *reasons; /* review reasons by subject; as many as there are subjects */
    size_t reasons_count, reasons_room, looks;
    enum desk_filter filter;
    struct strike filter_of; /* whose limb or target */
    struct card_cursor card; /* in DESK_CARDS */
    bool announcing;         /* announcing was asked for once */
    int64_t announce_until_ms;
    struct entry_name count_of; /* the incident whose count runs */
    enum corner count_corner;
    int64_t count_since_ms; /* 0: none runs */
    struct agree *agree;    /* in DESK_SETTLE: the open differences; owned */
    int settle_a, settle_b; /* roots of the desks compared */
    size_t settle_at;
    struct sync_typing sync; /* in DESK_SYNC */
    int kicks_told;          /* round in which the kicks owed were told */
    struct strike asked;
    bool has_asked;
    struct question question;
    struct clock_hand hand;
    struct clock_form clock_form; /* in DESK_CLOCK */
    struct end_form end_form;     /* in DESK_END */

    char notice[160];
    int64_t notice_until_ms;
    bool urgent;
    struct strike hit;
    int64_t hit_until_ms;
    struct repeat repeat;
    struct stroke stroke[STROKES]; /* of the key that repeat watches, the newest first */
    struct amending amending;
    struct jump jump;        /* in DESK_JUMP */
    struct note_typing note; /* in DESK_NOTE */
    struct desk_move move;   /* asked for; number 0: none */
    struct typo typo;
    struct burst burst;
    struct offices_seen office;
    struct alarms alarms;
    struct seen seen;
    struct reel reel;
    struct checking checking;
    bool watch;              /* it writes nothing, and has no row: */
    struct desk_row watcher; /* this stands for it */
};

/* The view that is shown and that live keys act on. */
struct fold *session_fold(const struct desk *desk);
void session_notice(struct desk *desk, int64_t now_ms, bool urgent, const char *format, ...)
    PRINTF_LIKE(4, 5);
bool session_owns(const struct desk *desk, struct entry_name name);
/* Why nothing is written any more; NULL: it is. */
const char *session_closed(const struct desk *desk);
/* A new keystroke, or what time alone brings: its entries get a place of their own. */
void session_stroke(struct desk *desk);
/* Asks before an action. ASK_FIRST: the caller tells the question; ASK_WAIT: nothing to do yet;
 * ASK_YES: do it (the action is called again for this once the second press has stood). */
enum ask { ASK_FIRST, ASK_WAIT, ASK_YES };
enum ask session_ask(struct desk *desk, enum action action, int64_t now_ms);
/* False, with a notice, where the rules know no such strike. */
bool session_allows(struct desk *desk, struct strike strike, int32_t key, int64_t now_ms);

/* write.c: entries out. All return false where memory ran out; the notice says so then. */
bool write_entry(struct desk *desk, struct entry entry, int64_t now_ms);
/* An entry of this kind at this moment of the round clock, everything else empty. */
struct entry write_blank(const struct desk *desk, enum entry_kind kind, int64_t now_ms);
bool write_strike(struct desk *desk, struct strike strike, int64_t now_ms);
/* A newer entry about the subject: `now` is its content from here on. False, with a notice and
 * nothing written, where the fold would refuse it. */
bool write_change(struct desk *desk, struct entry_name subject, struct entry now,
                  enum entry_act act, int64_t now_ms);
/* Makes the desk official for roles that it does not hold: 1 << corner, and 4 for the clock. */
bool write_claims(struct desk *desk, uint8_t roles, int64_t now_ms);

/* undo.c: keystrokes taken back and brought back. */
void write_undo(struct desk *desk, int64_t now_ms);
void write_redo(struct desk *desk, int64_t now_ms);
/* Room for one more; false: out of memory. */
bool steps_reserve(struct desk *desk);
/* Replays an entry of this desk's chain on the stacks of what can be taken back. */
void steps_replay(struct desk *desk, const struct entry *entry);

/* clock_keys.c: the round clock's keys. */
void clock_key(struct desk *desk, int64_t now_ms);
/* Arrows: what they add up to is one entry, written once they rest or another key comes. */
void clock_nudge(struct desk *desk, int32_t by_ms, int64_t now_ms);
void clock_settle(struct desk *desk, int64_t now_ms);
bool clock_is_nudge(enum action action);
/* An injury pause stops the clock, in the same keystroke; adds to its notice. */
void clock_pause(struct desk *desk, int64_t now_ms);
/* False, with a notice, where another desk has the clock. */
bool clock_is_here(struct desk *desk, int64_t now_ms);
/* Writes a clock entry of that code, round, elapsed_ms, value and (0: now) at_ms. */
bool clock_write(struct desk *desk, struct entry entry, int64_t now_ms);
bool clock_begin(struct desk *desk, int round, int64_t at_ms, int64_t now_ms);
/* The live result that ended the bout, or NULL. */
const struct subject *clock_ended(const struct desk *desk);
/* The clock as the desk shows it: with what its arrows have pressed. */
struct round_clock session_clock(const struct desk *desk, int64_t now_ms);

/* note_keys.c: the words of a note. */
void note_open(struct desk *desk, struct entry_name name, int64_t now_ms);
/* True where the key was its; else it has closed and the key is a live one. */
bool note_key(struct desk *desk, int32_t key, int64_t now_ms);
void note_finish(struct desk *desk, int64_t now_ms);

/* clock_form_keys.c: the clock set by typing. */
void clock_form_enter(struct desk *desk, int64_t now_ms);
bool clock_form_key(struct desk *desk, int32_t key, struct meaning meaning, int64_t now_ms);

/* late_keys.c: the start of a round moved, and what was tagged meanwhile with it. */
void late_set(struct desk *desk, int64_t late_ms, int64_t now_ms);
/* Another desk's entry: where it moved a start, this desk's entries follow. */
void late_hear(struct desk *desk, const struct entry *entry, int64_t now_ms);

/* end_keys.c: how the bout ended. */
void end_enter(struct desk *desk, int64_t now_ms);
bool end_key(struct desk *desk, int32_t key, struct meaning meaning, int64_t now_ms);

/* count_keys.c: the referee's count. */
void count_begin(struct desk *desk, struct entry_name incident, enum corner corner, int64_t now_ms);
/* The count ends with the number it has reached. False where none ran. */
bool count_end(struct desk *desk, int64_t now_ms);
/* A strike: they box on, so the count was over. */
void count_box_on(struct desk *desk, int64_t now_ms);
/* A count that has reached its end is written. */
void count_tick(struct desk *desk, int64_t now_ms);
/* When the number changes; INT64_MAX: none runs. */
int64_t count_next_ms(const struct desk *desk, int64_t now_ms);

/* desk_time.c: the machine's wall clock. */
/* Another desk's entry: it may say how the wall clock was set. */
void time_hear(struct desk *desk, const struct entry *entry);
/* On opening: the log, which knew `known_ms`, can be ahead of this wall clock. */
void time_resume(struct desk *desk, int64_t known_ms, int64_t now_ms);

/* walk_keys.c: walking the log of entries, with keys that are no strikes. True where the key was
 * the log's. */
bool walk_key(struct desk *desk, int32_t key, struct meaning meaning, int64_t now_ms);
void walk_enter(struct desk *desk, int64_t now_ms);
void walk_leave(struct desk *desk);
/* The log is open, in whichever of its modes. */
bool walk_is_open(const struct desk *desk);
/* A key was the log's: it stays open for a while longer. */
void walk_stay(struct desk *desk, int64_t now_ms);
/* After the fold has changed: what needs a look, and the list that is walked while it is. */
void walk_refresh(struct desk *desk);
/* The same after entries of this desk, which are the newest: at the cost of how many they are. */
void walk_update(struct desk *desk, const struct entry *entries, size_t count);
/* The entry under the cursor, or NULL; and its place among those walked, -1: none. */
const struct subject *walk_subject(const struct desk *desk);
long walk_place(const struct desk *desk);
long walk_place_of(const struct desk *desk, struct entry_name name);
void walk_place_cursor(struct desk *desk, long place);

/* jump_keys.c: to a place in the log. */
void jump_enter(struct desk *desk, int64_t now_ms);
/* True where a pad key says where to, instead of being a strike. */
bool jump_asks(const struct desk *desk, int64_t now_ms);
void jump_pad_key(struct desk *desk, struct strike strike, int64_t now_ms);
bool jump_key(struct desk *desk, int32_t key, struct meaning meaning, int64_t now_ms);

/* amend_keys.c: one entry put right, by a key that was announced. */
/* True where a pad key or mark goes to the opened entry instead of to the count. */
bool amend_awaits(const struct desk *desk);
void amend_open(struct desk *desk, int64_t now_ms);
/* The announced key; closes. */
void amend_key(struct desk *desk, int32_t key, struct meaning meaning, int64_t now_ms);
void amend_void(struct desk *desk, int64_t now_ms);
void amend_review(struct desk *desk, int64_t now_ms);

/* repair_keys.c: a whole range put right. */
void range_next(struct desk *desk, int64_t now_ms);
void range_extend(struct desk *desk, bool newer, int64_t now_ms);
/* True where the key was the repair's. */
bool repair_key(struct desk *desk, int32_t key, struct meaning meaning, int64_t now_ms);

/* move_keys.c: a range for another bout. */
void move_enter(struct desk *desk, int64_t now_ms);
/* True where the key was its. */
bool move_key(struct desk *desk, int32_t key, int64_t now_ms);

/* view_keys.c: what was not seen, or not well. */
void view_key(struct desk *desk, int64_t now_ms);
void unsure_key(struct desk *desk, int64_t now_ms);

/* typo.c: the wrong case or layout, noticed and turned round. */
void typo_strike(struct desk *desk, struct strike strike, int32_t key, int64_t now_ms);
/* A key without a meaning. */
void typo_free(struct desk *desk, int32_t key, int64_t now_ms);
void typo_turn(struct desk *desk, int64_t now_ms);

/* burst.c: what no hand typed. */
/* True where the key answered for what is held back. */
bool burst_key(struct desk *desk, int32_t key, enum action action, int64_t now_ms);

/* office_keys.c: who is official for what. */
const char *office_holder(const struct desk *desk, enum entry_code what);
/* What this desk holds: 1 << corner, and 4 for the clock. */
uint8_t office_roles(const struct desk *desk);
/* After a strike was written: whether it counts, and on what clock. */
void office_strike(struct desk *desk, enum corner corner, int64_t now_ms);
/* Tells what has changed since it was last looked at. */
void office_watch(struct desk *desk, int64_t now_ms);
void office_seen(struct desk *desk);
/* On opening, after office_seen and the claims: what is going on. */
void office_greet(struct desk *desk, bool resumed, int64_t now_ms);
const char *office_standing(const struct desk *desk, int64_t now_ms);
void office_enter(struct desk *desk, int64_t now_ms);
/* True where the key was the prompt's; else it is a live one. */
bool office_key(struct desk *desk, int32_t key, struct meaning meaning, int64_t now_ms);

/* alarm.c: a bell and a flash. */
void alarm_raise(struct desk *desk, enum desk_alarm alarm, int64_t now_ms);
/* Whether what lasts is to ring again; *told_ms = when it last did, 0: not yet. */
bool alarm_again(int64_t *told_ms, int64_t now_ms);
/* A strike while the clock stands; while it runs. */
void alarm_off_clock(struct desk *desk, int64_t now_ms);
void alarm_on_clock(struct desk *desk);
int64_t alarm_next_change(const struct desk *desk, int64_t now_ms);

/* seen.c: at most once a second, since it costs as much as the log is long. */
void seen_look(struct desk *desk, int64_t now_ms);

/* check.c */
void check_look(struct desk *desk, int64_t now_ms);
void check_release(struct desk *desk);

/* incident_keys.c: an incident of a corner. */
void incident_enter(struct desk *desk, enum corner corner, int64_t now_ms);
/* True where the key answered the prompt; any other key falls back to live and is taken as it is
 * there. */
bool incident_key(struct desk *desk, int32_t key, int64_t now_ms);

/* keys.c */
/* Flags the newest entry of this desk, or of it the newest of a corner. */
void review_key(struct desk *desk, enum corner corner, int64_t now_ms);
/* A key that is known to be a stroke of its own. Returns desk_wants bits. */
unsigned take_key(struct desk *desk, int32_t key, struct meaning meaning, int64_t now_ms);
/* The newest live strike of the current round: of this desk (CORNER_NONE), or of a corner. */
const struct subject *newest_strike(const struct desk *desk, enum corner corner, int64_t now_ms);
void live(struct desk *desk);

/* mark_keys.c: what Space and the digits do to a strike, live and in the log. */
/* Which mark an action puts on; false where it is none. *corner = whose digit; CORNER_NONE for
 * Space. */
bool mark_apply(struct strike *strike, enum action action);
enum corner mark_corner(enum action action);
/* Whether the action is a mark, or turns stance or position, of one strike. */
bool mark_applies(enum action action);

/* reel.c: beside a player. */
/* The moment that is spoken of: now, or that of the frame on screen. */
int64_t session_moment(const struct desk *desk, int64_t now_ms);
/* As they are at that moment. */
enum stance session_stance(const struct desk *desk, enum corner corner, int64_t now_ms);
enum position session_position(const struct desk *desk, int64_t now_ms);
void reel_wish(struct desk *desk, struct reel_wish wish);

/* reel_keys.c: the key is the player's; held, each repeat is one more. */
bool reel_takes(const struct desk *desk, int32_t key);
bool reel_passes_repeats(const struct desk *desk, int32_t key);
void reel_key(struct desk *desk, int32_t key, int64_t now_ms);
/* True, and said, while a recording is not open. */
bool reel_refuses(struct desk *desk, enum action action, int64_t now_ms);
/* True where the same strike is there already: pointed out, and not written. */
bool reel_doubles(struct desk *desk, struct strike strike, int64_t now_ms);
void reel_bell(struct desk *desk, int64_t now_ms);
/* So much more elapsed: the bell before the moment moves. */
void reel_nudge(struct desk *desk, int32_t by_ms, int64_t now_ms);
/* Where in the recording that moment of the round clock is; -1: the round has no bell. */
int64_t reel_media_of(const struct desk *desk, int round, int32_t elapsed_ms);
void reel_difference(struct desk *desk, int64_t now_ms);
void reel_look(struct desk *desk, int64_t now_ms);
/* reel.c: the session ends: stored places are those that follow from the bells. */
void reel_finish(struct desk *desk, int64_t now_ms);
/* Such an entry says nothing but where its subject stands. */
bool reel_places(const struct desk *desk, const struct entry *entry);

/* settle_keys.c: differences between two desks. */
/* The desk with the most strikes that count (or, of the others, with the most at all), by its root;
 * -1: none. */
int settle_busiest(const struct desk *desk, bool official, int but);
void settle_enter(struct desk *desk, int64_t now_ms);
bool settle_key(struct desk *desk, int32_t key, struct meaning meaning, int64_t now_ms);

/* sync_keys.c: the recording's time code. */
void sync_enter(struct desk *desk, int64_t now_ms);
/* True where the key was the mode's; else it has closed and the key is a live one. */
bool sync_key(struct desk *desk, int32_t key, struct meaning meaning, int64_t now_ms);

/* cards_keys.c: scorecards, and what the rules say happens. */
void cards_enter(struct desk *desk, int64_t now_ms);
/* True where the key was the form's; else the form has closed and the key is a live one. */
bool cards_key(struct desk *desk, int32_t key, struct meaning meaning, int64_t now_ms);
/* Tells a limit that the corner has reached. */
void limits_tell(struct desk *desk, enum corner corner, int64_t now_ms);
/* In the last half minute of a round, once: the kicks still owed. */
void kicks_tell(struct desk *desk, int64_t now_ms);

#endif
