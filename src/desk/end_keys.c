/* end_keys.c: how the bout ended, entered where the tagger sits: how, for whom, when. */
#include <stdio.h>
#include <string.h>

#include "ringtally/base/when.h"
#include "desk/session.h"
#include "ringtally/tally/officials.h"

#define DIGITS   4   /* MMSS */
#define AGAIN_MS 700 /* before that a second Enter is a held key's, not an answer */
#define ARMED_MS 5000

/* By digit; the last ones have none and are reached with Down. */
static const struct {
    enum ending how;
    const char *words;
} ways[] = {
    {END_KNOCKOUT, "knockout"},
    {END_REFEREE, "stopped by the referee"},
    {END_DOCTOR, "stopped by the physician"},
    {END_CORNER, "stopped by the corner"},
    {END_LIMIT, "the rules' limit"},
    {END_RETIREMENT, "retirement"},
    {END_DISQUALIFICATION, "disqualification"},
    {END_NO_CONTEST, "no contest"},
    {END_ACCIDENTAL, "technical decision"},
    {END_DISTANCE, "decision"},
    {END_INTENTIONAL, "an intentional foul's injury"},
    {END_BOTH_OUT, "both counted out"},
    {END_WALKOVER, "walkover"},
    {END_NO_DECISION, "no decision"},
};
enum { WAYS = sizeof ways / sizeof *ways, WITH_DIGIT = 10 };

int desk_end_ways(const char *const **out)
{
    static const char *words[WAYS];
    for (int i = 0; i < WAYS; i++) {
        words[i] = ways[i].words;
    }
    *out = words;
    return WAYS;
}

static const char *words_of(enum ending how)
{
    for (int i = 0; i < WAYS; i++) {
        if (ways[i].how == how) {
            return ways[i].words;
        }
    }
    return "";
}

bool desk_ended(const struct desk *desk, char *out, size_t size)
{
    const struct subject *subject = clock_ended(desk);
    struct result_text text;
    char time[WHEN_SIZE];
    out[0] = '\0';
    if (!subject) {
        return false;
    }
    if (!result_read(&text, subject->now.text)) {
        snprintf(out, size, "%s", subject->now.text);
        return true;
    }
    int how = name_index(ending_ids, END_COUNT, text.kind);
    int used = snprintf(out, size, "%s%s%s", how > 0 ? words_of((enum ending)how) : text.kind,
                        text.corner < CORNER_COUNT ? ", " : "",
                        text.corner < CORNER_COUNT ? corner_names[text.corner] : "");
    if (text.round > 0 && used > 0 && (size_t)used < size) {
        used += snprintf(out + used, size - (size_t)used, ", round %d", text.round);
    }
    if (text.round > 0 && text.elapsed_ms >= 0 && (size_t)used < size) {
        snprintf(out + used, size - (size_t)used, " %s", when_clock(time, text.elapsed_ms));
    }
    return true;
}

static bool names_corner(enum ending how)
{
    return (how >= END_KNOCKOUT && how <= END_WALKOVER) || how == END_INTENTIONAL;
}

void end_enter(struct desk *desk, int64_t now_ms)
{
    struct clock_face face = desk_clock(desk, now_ms);
    const struct subject *ended = clock_ended(desk);
    struct result_text text;
    if (desk->own) {
        session_notice(desk, now_ms, true, "a shadow says nothing of how the bout ended");
        return;
    }
    desk->mode = DESK_END;
    desk->mode_until_ms = 0;
    desk->end_form = (struct end_form){.at = -1,
                                       .corner = CORNER_NONE,
                                       .round = face.state == CLOCK_READY ? 0 : face.round,
                                       .elapsed_ms = face.elapsed_ms,
                                       .at_ms = now_ms,
                                       .of = ended ? ended->now.name : ENTRY_NONE};
    if (ended && result_read(&text, ended->now.text)) {
        int how = name_index(ending_ids, END_COUNT, text.kind);
        for (int i = 0; i < WAYS; i++) {
            desk->end_form.at = (int)ways[i].how == how ? i : desk->end_form.at;
        }
        desk->end_form.corner = (enum corner)text.corner;
        desk->end_form.round = text.round;
        desk->end_form.elapsed_ms = text.elapsed_ms;
        desk->end_form.at_ms = ended->now.at_ms;
    }
}

static void digit_key(struct end_form *form, int digit)
{
    if (form->at < 0) {
        form->at = digit == 0 ? WITH_DIGIT - 1 : digit - 1;
        return;
    }
    form->number = form->typed == 0 ? digit : form->number * 10 + digit;
    form->typed++;
    form->elapsed_ms = (form->number / 100 * 60 + form->number % 100) * 1000;
}

static void rub_out(struct end_form *form)
{
    if (form->typed > 0) {
        form->typed--;
        form->number /= 10;
        form->elapsed_ms = (form->number / 100 * 60 + form->number % 100) * 1000;
    } else {
        form->at = -1;
        form->corner = CORNER_NONE;
    }
}

/* The rules and the log against what is to be entered. True: it may be. */
static bool may_enter(struct desk *desk, struct bout_end *end, int64_t now_ms)
{
    char reason[256];
    struct end_form *form = &desk->end_form;
    const struct fold *fold = session_fold(desk);
    struct log_facts facts = officials_log(fold, &desk->rules, &desk->bout, now_ms);
    switch (ending_check(reason, sizeof reason, &desk->rules, &facts, end)) {
    case OFFICIAL_IMPOSSIBLE:
        session_notice(desk, now_ms, true, "%s", reason);
        return false;
    case OFFICIAL_ODD:
        if (form->odd_ms > 0 && now_ms < form->odd_ms + ARMED_MS &&
            now_ms >= form->odd_ms + AGAIN_MS) {
            form->overridden = true;
            return true;
        }
        form->odd_ms = now_ms;
        session_notice(desk, now_ms, true, "%s; if it was ruled so, Enter again", reason);
        return false;
    default:
        return true;
    }
}

static void write_end(struct desk *desk, int64_t now_ms)
{
    char words[160];
    struct end_form *form = &desk->end_form;
    if (form->at < 0) {
        session_notice(desk, now_ms, true, "how did it end? a digit");
        return;
    }
    enum ending how = ways[form->at].how;
    struct bout_end end = {.how = (uint8_t)how,
                           .corner = (uint8_t)(names_corner(how) ? form->corner : CORNER_NONE),
                           .round = how == END_WALKOVER ? 0 : form->round,
                           .elapsed_ms = how == END_WALKOVER ? -1 : form->elapsed_ms};
    if (names_corner(how) && form->corner == CORNER_NONE) {
        session_notice(desk, now_ms, true,
                       how == END_INTENTIONAL ? "who was injured? [ red, ] blue"
                                              : "who won? [ red, ] blue");
        return;
    }
    if (!may_enter(desk, &end, now_ms)) {
        return;
    }
    struct result_text text = {.corner = end.corner,
                               .round = end.round,
                               .elapsed_ms = end.elapsed_ms,
                               .overridden = form->overridden};
    snprintf(text.kind, sizeof text.kind, "%s", ending_ids[how]);
    snprintf(text.referee, sizeof text.referee, "%.60s", desk->bout.referee);
    struct entry entry = write_blank(desk, ENTRY_RESULT, now_ms);
    entry.code = CODE_ENDED;
    entry.off_clock = false;
    entry.at_ms = form->at_ms;
    entry.strike.corner = end.corner < CORNER_COUNT ? end.corner : 0;
    if (!result_write(entry.text, sizeof entry.text, &text)) {
        session_notice(desk, now_ms, true, "the result does not fit into an entry");
        return;
    }
    bool wrote = form->of.desk >= 0 ? write_change(desk, form->of, entry, ACT_AMEND, now_ms)
                                    : write_entry(desk, entry, now_ms);
    live(desk);
    if (wrote && desk_ended(desk, words, sizeof words)) {
        session_notice(desk, now_ms, false, "the bout is over: %s; Backspace: it is not", words);
    }
}

static void reopen(struct desk *desk, int64_t now_ms)
{
    const struct subject *ended = fold_subject(session_fold(desk), desk->end_form.of);
    live(desk);
    if (!ended || !ended->live) {
        session_notice(desk, now_ms, false, "no end of the bout is entered");
        return;
    }
    struct entry now = ended->now;
    now.undoes = ENTRY_NONE;
    if (write_change(desk, now.name, now, ACT_VOID, now_ms)) {
        session_notice(desk, now_ms, true, "the bout is open again, its clock as it was");
    }
}

static void whose_key(struct desk *desk, enum corner corner, int64_t now_ms)
{
    struct end_form *form = &desk->end_form;
    if (form->at >= 0 && !names_corner(ways[form->at].how)) {
        session_notice(desk, now_ms, false, "%s names no corner", ways[form->at].words);
        return;
    }
    form->corner = corner;
    session_notice(desk, now_ms, false, "%s", corner_names[corner]);
}

static void round_key(struct desk *desk, int step, int64_t now_ms)
{
    struct end_form *form = &desk->end_form;
    int round = form->round + step;
    if (round < 1 || round > fold_clock(session_fold(desk))->round) {
        session_notice(desk, now_ms, false, "no round %d has begun", round);
        return;
    }
    form->round = round;
}

bool end_key(struct desk *desk, int32_t key, struct meaning meaning, int64_t now_ms)
{
    struct end_form *form = &desk->end_form;
    int digit = keymap_digit(&desk->keymap, key);
    if (key == KEY_OF_ENTER) {
        write_end(desk, now_ms);
        return true;
    }
    form->odd_ms = 0;
    form->overridden = false;
    if (digit >= 0 && form->typed == DIGITS) {
        session_notice(desk, now_ms, false,
                       "a time has four digits at most: Backspace takes one back");
    } else if (digit >= 0) {
        digit_key(form, digit);
    } else if (key == KEY_OF_BACKSPACE && form->at < 0 && form->corner == CORNER_NONE) {
        session_notice(desk, now_ms, false, "nothing is typed: Esc leaves");
    } else if (key == KEY_OF_BACKSPACE) {
        rub_out(form);
    } else if (key == KEY_OF_DELETE) {
        reopen(desk, now_ms);
    } else if (key == KEY_OF_UP || key == KEY_OF_DOWN) {
        int step = key == KEY_OF_DOWN ? 1 : WAYS - 1;
        form->at = form->at < 0 ? (key == KEY_OF_DOWN ? 0 : WAYS - 1) : (form->at + step) % WAYS;
    } else if (key == KEY_OF_LEFT || key == KEY_OF_RIGHT) {
        round_key(desk, key == KEY_OF_RIGHT ? 1 : -1, now_ms);
    } else if (meaning.action == ACTION_RED_INCIDENT) {
        whose_key(desk, CORNER_RED, now_ms);
    } else if (meaning.action == ACTION_BLUE_INCIDENT) {
        whose_key(desk, CORNER_BLUE, now_ms);
    } else {
        live(desk);
        return key == KEY_OF_ESC || meaning.action == ACTION_END;
    }
    return true;
}

bool desk_end_form(const struct desk *desk, char *out, size_t size, int *at)
{
    char time[WHEN_SIZE] = "no time";
    const struct end_form *form = &desk->end_form;
    const char *typed = form->typed > 0 ? "_" : "";
    *at = form->at;
    if (desk->mode != DESK_END) {
        return false;
    }
    if (form->elapsed_ms >= 0) {
        when_clock(time, form->elapsed_ms);
    }
    if (form->at < 0) {
        snprintf(out, size, "how? a digit   %s%sround %d %s%s",
                 form->corner < CORNER_COUNT ? corner_names[form->corner] : "",
                 form->corner < CORNER_COUNT ? "   " : "", form->round, time, typed);
        return true;
    }
    enum ending how = ways[form->at].how;
    const char *whose =
        form->corner < CORNER_COUNT ? corner_names[form->corner] : "[ red or ] blue?";
    snprintf(out, size, "%s%s%s   round %d %s%s", words_of(how), names_corner(how) ? ": " : "",
             names_corner(how) ? whose : "", form->round, time, typed);
    return true;
}
