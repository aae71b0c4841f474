/* scene.h: what the parts of the panel share: everything they read, looked up once a frame. */
#ifndef RINGTALLY_SCENE_H
#define RINGTALLY_SCENE_H

#include "ringtally/screen/panel.h"
#include "ringtally/tally/shares.h"

struct area {
    int row, column, rows, columns;
};

struct scene {
    struct frame *frame;
    const struct panel_view *view;
    const struct desk *desk;
    const struct bout *bout;
    const struct rules *rules;
    const struct keymap *keymap;
    const struct fold *fold;
    const struct tally *tally;
    const struct subject *subjects;
    size_t subject_count;
    struct clock_face face;
    int late[CORNER_COUNT]; /* strikes of the second under way: output counts whole seconds */
    uint8_t limbs;          /* bit 1 << group for each group that the rules know */
};

/* scene.c */
void scene_look(struct scene *scene, struct frame *frame, const struct panel_view *view);
const struct round_tally *scene_round(const struct scene *scene, int round); /* 0: the bout */
enum style corner_style(enum corner corner, bool strong);
/* The texts of figures: written into `out` whatever the figure is, and returned. */
/* "12/31"; a dot where nothing was thrown. */
const char *count_text(char out[32], const struct count *count);
int count_width(const struct count *count);
/* The same in at most so many columns: "1016/…" where what was thrown finds no room. */
const char *count_fit(char out[32], const struct count *count, int columns);
/* That, aligned to the right within [left, end): it never touches what stands before `left`. */
void put_count(struct frame *frame, int row, int left, int end, enum style style,
               const struct count *count);
/* "39%"; a dash where nothing was thrown. */
const char *accuracy_text(char out[SHARE_SIZE], const struct count *count);
/* Attempted a running minute, "28.6"; a dash where the clock has not run. Round 0: the bout. */
const char *output_text(char out[32], const struct scene *scene, enum corner corner, int round);
/* What the clock shows, remaining, as m:ss. */
const char *clock_text(char out[32], int32_t remaining_ms);
/* The moment of an entry on the round clock, "R2 1:43". */
const char *moment_text(char out[48], const struct scene *scene, const struct entry *entry);
/* Highest round that has a column or a row. */
int scene_rounds(const struct scene *scene);
/* A dim rule with a title in it. */
void put_rule(struct frame *frame, int row, int column, int width, const char *title);
void put_right(struct frame *frame, int row, int end, enum style style, const char *text);
void put_centred(struct frame *frame, const struct area *area, int row, enum style style,
                 const char *text);
/* Short words for a strike's marks and for an entry's standing, each with a blank before it. */
void mark_words(char *out, size_t size, const struct entry *now, bool brief);

/* wrap.c */
/* Bytes of the text that fit into `columns`, up to a blank where there is one. */
size_t line_bytes(const char *text, int columns);
/* Puts a text over the lines of the area from `row` on; what does not fit ends with an ellipsis.
 * Returns the row behind it. */
int put_wrapped(const struct scene *scene, const struct area *area, int row, enum style style,
                const char *text);

/* digits.c: large ones, three rows high: 0 to 9, '/', '-' and ':'. */
int digits_width(const char *text);
void digits_draw(struct frame *frame, int row, int column, enum style style, const char *text);

/* corner.c: a corner's name and sums; the clock between the corners. */
void corner_draw(const struct scene *scene, enum corner corner, const struct area *area);
void clock_draw(const struct scene *scene, const struct area *area);

/* pad.c: the pad, the live numbers under their keys. */
int pad_rows(int lines, int gap); /* rows of a pad with that many lines a cell */
void pad_draw(const struct scene *scene, const struct area *area, int lines, int gap);

/* strip.c: newest entries, or what a mode asks for. */
void strip_draw(const struct scene *scene, const struct area *area);
/* The letters that follow an incident's key, each with what it means: "w warning". */
#define INCIDENT_CHOICES 9
extern const char *const incident_choices[INCIDENT_CHOICES];
/* An inverted line over the whole width that says which mode the keys are in. */
void mode_line(const struct scene *scene, const struct area *area, const char *mode,
               const char *hint);

/* Written at this desk, in this session or a former one. */
bool is_own(const struct scene *scene, struct entry_name name);

/* log.c: the entries that the log mode walks; in a rest and at the end those that want a look
 * (returns the rows it took; 0 where none does or a round is on); how many of them, on a rule. */
void log_draw(const struct scene *scene, const struct area *area);
int looks_draw(const struct scene *scene, const struct area *area);
void looks_count_draw(const struct scene *scene, const struct area *area);

/* lookup.c: the numbers of one pad cell, large. Returns the rows it took. */
int lookup_draw(const struct scene *scene, const struct area *area, const struct strike *asked);

/* cards.c: the scorecards that are typed; and what is known of the result, while no round is on,
 * right-aligned. */
void cards_draw(const struct scene *scene, const struct area *area);
void result_draw(const struct scene *scene, int row, int end);

/* The pages that take the room of pad and strip. */
int readout_rows(const struct scene *scene); /* at most, of what follows */
void readout_draw(const struct scene *scene, const struct area *area);
void by_stance_draw(const struct scene *scene, const struct area *area);
void taken_draw(const struct scene *scene, const struct area *area);
void timeline_draw(const struct scene *scene, const struct area *area);
void said_draw(const struct scene *scene, const struct area *area);

/* check_page.c */
void check_draw(const struct scene *scene, const struct area *area);

/* relief.c: who is official for what, for whoever may take over. */
void offices_draw(const struct scene *scene, const struct area *area);

/* reel_line.c: beside a player: where the recording stands, and on the last line the keys for it.
 * False: the desk is on no recording. */
bool reel_place(char *out, size_t size, const struct scene *scene);
bool reel_line_draw(const struct scene *scene, int row);

/* settle.c: what two desks say differently. */
void settle_draw(const struct scene *scene, const struct area *area);

/* rounds.c: the rounds side by side. */
int rounds_rows(const struct scene *scene);
void rounds_draw(const struct scene *scene, const struct area *area);

#define WINDOWS_ROWS    4 /* below the rounds, a line between */
#define ROUNDS_ACCURACY 5 /* columns behind a corner's count */
/* windows.c: parts of the bout below the rounds; a corner's counts end `count` columns behind
 * left[corner]. */
void windows_draw(const struct scene *scene, const struct area *area, const struct area *middle,
                  const int left[CORNER_COUNT], int count);

/* side.c: tables beside the pad, as many as there is room for. */
void side_draw(const struct scene *scene, const struct area *area);

/* help.c: the keys, made from the table of operator actions. */
/* A key in few columns: "PgUp". */
const char *key_mark(char word[16], int32_t key);
int help_rows(const struct scene *scene, int columns);
void help_draw(const struct scene *scene, const struct area *area);

#endif
