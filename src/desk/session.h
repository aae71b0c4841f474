/* session.h: inside of a desk; shared by the files of this room only. */
#ifndef RINGTALLY_SESSION_H
#define RINGTALLY_SESSION_H

#include "desk/repeat.h"
#include "ringtally/insight/agree.h"
#include "ringtally/desk/desk.h"

/* A keystroke that can be taken back: the entry it wrote, and the entry that took it back. */
struct step {
    struct entry_name entry, undo;
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

struct desk {
    struct bout bout;
    struct rules rules;
    struct keymap keymap;
    int self, root;    /* index of this desk, and of the first of its chain */
    struct fold *fold; /* the official view */
    struct fold *own;  /* this desk's view alone; NULL unless it is a shadow */
    int64_t next_seq;
    int64_t newest_ms;   /* highest utc_ms written, which never falls */
    struct entry *fresh; /* written since desk_take */
    size_t fresh_count, fresh_room, fresh_taken;
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
    size_t reasons_room, looks;
    enum desk_filter filter;
    struct strike filter_of;    /* whose limb or target */
    struct card_cursor card;    /* in DESK_CARDS */
    bool announcing;            /* announcing was asked for once */
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
    int leave_asked;   /* how often leaving was asked for in a row */
    enum action armed; /* an action that wants a second press, until armed_until_ms */
    int64_t armed_until_ms;

    char notice[160];
    int64_t notice_until_ms;
    bool urgent;
    struct strike hit;
    int64_t hit_until_ms;
    struct repeat repeat;
};

/* The view that is shown and that live keys act on. */
struct fold *session_fold(const struct desk *desk);
void session_notice(struct desk *desk, int64_t now_ms, bool urgent, const char *format, ...)
    PRINTF_LIKE(4, 5);
bool session_owns(const struct desk *desk, struct entry_name name);
/* False, with a notice, where the rules know no such strike. */
bool session_allows(struct desk *desk, struct strike strike, int32_t key, int64_t now_ms);

/* write.c: entries out. All return false where memory ran out; the notice says so then. */
bool write_entry(struct desk *desk, struct entry entry, int64_t now_ms);
/* An entry of this kind at this moment of the round clock, everything else empty. */
struct entry write_blank(const struct desk *desk, enum entry_kind kind, int64_t now_ms);
bool write_strike(struct desk *desk, struct strike strike, int64_t now_ms);
/* A newer entry about the subject: `now` is its content from here on. */
bool write_change(struct desk *desk, const struct subject *subject, struct entry now,
                  enum entry_act act, int64_t now_ms);
/* Makes the desk official for roles that it does not hold: 1 << corner, and 4 for the clock. */
bool write_claims(struct desk *desk, uint8_t roles, int64_t now_ms);
bool write_undo(struct desk *desk, int64_t now_ms);
bool write_redo(struct desk *desk, int64_t now_ms);
/* Replays an entry of this desk's chain on the stacks of what can be taken back. */
bool steps_replay(struct desk *desk, const struct entry *entry);

/* clock_keys.c: the round clock's keys. */
void clock_key(struct desk *desk, int64_t now_ms);
void clock_nudge(struct desk *desk, int32_t by_ms, int64_t now_ms);

/* log_keys.c: the log of entries under the keys. True where the key was the log's. */
bool log_key(struct desk *desk, int32_t key, struct meaning meaning, int64_t now_ms);
void log_enter(struct desk *desk, int64_t now_ms);
/* After the fold has changed: what needs a look, and the list that is walked while it is. */
void log_refresh(struct desk *desk);
void log_next_filter(struct desk *desk);

/* marks.c: what Space and the digits do to a strike, live and in the log. */
/* Which mark an action puts on; false where it is none. *corner = whose digit; CORNER_NONE for
 * Space. */
bool mark_apply(struct strike *strike, enum action action);
enum corner mark_corner(enum action action);

/* settle_keys.c: differences between two desks. */
void settle_enter(struct desk *desk, int64_t now_ms);
bool settle_key(struct desk *desk, int32_t key, struct meaning meaning, int64_t now_ms);

/* sync_keys.c: the recording's time code. */
void sync_enter(struct desk *desk, int64_t now_ms);
/* True where the key was the mode's; else it has closed and the key is a live one. */
bool sync_key(struct desk *desk, int32_t key, struct meaning meaning, int64_t now_ms);

/* cards_keys.c: scorecards, counts, and what the rules say happens. */
void cards_enter(struct desk *desk, int64_t now_ms);
/* True where the key was the form's; else the form has closed and the key is a live one. */
bool cards_key(struct desk *desk, int32_t key, struct meaning meaning, int64_t now_ms);
void count_begin(struct desk *desk, struct entry_name incident, enum corner corner, int64_t now_ms);
/* False where no count ran. */
bool count_end(struct desk *desk, int64_t now_ms);
/* Tells a limit that the corner has reached. */
void limits_tell(struct desk *desk, enum corner corner, int64_t now_ms);
/* In the last half minute of a round, once: the kicks still owed. */
void kicks_tell(struct desk *desk, int64_t now_ms);

#endif
