/* cards_keys.c: the officials' side under the keys: scorecards, limits. */
#include <stdio.h>
#include <string.h>

#include "ringtally/tally/officials.h"
#include "desk/session.h"

#define ARMED_MS 5000
#define KICKS_MS 30000 /* before the bell the desk says what is owed */

void cards_enter(struct desk *desk, int64_t now_ms)
{
    struct clock_face face = desk_clock(desk, now_ms);
    desk->mode = DESK_CARDS;
    desk->mode_until_ms = 0;
    desk->card = (struct card_cursor){.seat = 0, .round = face.round};
}

/* What a digit key is in half points: 0 stands for ten where ten is the most that a judge gives. */
static int half_of(const struct desk *desk, int32_t key)
{
    int points = keymap_digit(&desk->keymap, key);
    return 2 * (points == 0 && desk->rules.scoring.system == SYSTEM_POINTS ? 10 : points);
}

static int seats(const struct desk *desk)
{
    return desk->bout.judges ? desk->bout.judges : desk->rules.judges;
}

static void write_score(struct desk *desk, int red_half, int blue_half, int64_t now_ms)
{
    char warning[160];
    struct card_cursor *at = &desk->card;
    const struct fold *fold = session_fold(desk);
    const struct subject *subject = officials_score(fold, at->seat, at->round);
    const struct tally *tally = fold_tally(fold);
    uint8_t deducted[CORNER_COUNT];
    for (int corner = 0; corner < CORNER_COUNT; corner++) {
        deducted[corner] = (uint8_t)(2 * tally->round[at->round].corner[corner].deducted);
    }
    struct entry entry = write_blank(desk, ENTRY_SCORE, now_ms);
    entry.round = (uint8_t)at->round;
    entry.off_clock = false;
    entry.value = score_value(at->seat, red_half, blue_half);
    char red[SCORE_BYTES], blue[SCORE_BYTES];
    snprintf(entry.text, sizeof entry.text, "judge %d: %s-%s", at->seat + 1,
             score_words(red, red_half), score_words(blue, blue_half));
    if (subject && session_owns(desk, subject->now.name)) {
        entry.at_ms = subject->now.at_ms;
        write_change(desk, subject->now.name, entry, ACT_AMEND, now_ms);
    } else {
        write_entry(desk, entry, now_ms);
    }
    if (score_check(warning, sizeof warning, &desk->rules, red_half, blue_half, deducted)) {
        session_notice(desk, now_ms, true, "kept, but look: %s", warning);
    } else {
        session_notice(desk, now_ms, false, "round %d, %s", at->round, entry.text);
    }
}

static void digit_key(struct desk *desk, int32_t key, int64_t now_ms)
{
    struct card_cursor *at = &desk->card;
    int boxed = fold_clock(session_fold(desk))->round;
    if (at->round > boxed) {
        session_notice(desk, now_ms, true, "round %d was not boxed", at->round);
        return;
    }
    at->half[at->typed] = half_of(desk, key);
    if (++at->typed < 2) {
        return;
    }
    at->typed = 0;
    write_score(desk, at->half[0], at->half[1], now_ms);
    at->last_seat = at->seat;
    at->just_set = true;
    at->seat = (at->seat + 1) % seats(desk);
}

/* After a digit: half a point more. It is the amend key's second use, since a point is a pad key.
 */
static void half_key(struct desk *desk, int64_t now_ms)
{
    struct card_cursor *at = &desk->card;
    if (!desk->rules.scoring.half_points) {
        session_notice(desk, now_ms, true, "%s knows no half points", desk->rules.title);
    } else if (at->typed == 1) {
        at->half[0] |= 1;
    } else if (at->just_set) {
        at->seat = at->last_seat;
        write_score(desk, at->half[0], at->half[1] |= 1, now_ms);
        at->just_set = false;
        at->seat = (at->seat + 1) % seats(desk);
    }
}

static void name_key(struct desk *desk, enum corner corner, int64_t now_ms)
{
    struct entry entry = write_blank(desk, ENTRY_SCORE, now_ms);
    entry.code = CODE_NAMED;
    entry.off_clock = false;
    entry.strike.corner = (uint8_t)corner;
    entry.value = score_value(desk->card.seat, 0, 0);
    snprintf(entry.text, sizeof entry.text, "judge %d names %s", desk->card.seat + 1,
             corner_names[corner]);
    if (write_entry(desk, entry, now_ms)) {
        session_notice(desk, now_ms, false, "%s", entry.text);
    }
}

/* Enters what the cards imply as the official result, told twice. What nobody was heard to say is
 * entered as implied: without a referee, and with a flag that every output repeats. */
static void announce_key(struct desk *desk, int64_t now_ms)
{
    struct officials officials;
    struct result_text text = {.elapsed_ms = -1, .implied = true};
    officials_read(&officials, session_fold(desk), &desk->rules, &desk->bout, now_ms);
    const struct decision *implied = &officials.implied;
    if (implied->kind <= DECISION_EXTENSION) {
        session_notice(desk, now_ms, true, "nothing to announce yet: %s", implied->reason);
        return;
    }
    if (!desk->announcing || now_ms >= desk->announce_until_ms) {
        desk->announcing = true;
        desk->announce_until_ms = now_ms + ARMED_MS;
        session_notice(desk, now_ms, true, "%s%s%s: + again enters it, as implied", implied->name,
                       implied->winner < CORNER_COUNT ? ", " : "",
                       implied->winner < CORNER_COUNT ? corner_names[implied->winner] : "");
        return;
    }
    desk->announcing = false;
    snprintf(text.kind, sizeof text.kind, "%s", decision_ids[implied->kind]);
    text.corner = implied->winner;
    text.voted = implied->voted;
    text.vote = implied->vote;
    text.round = officials.end.round;
    text.elapsed_ms = officials.end.elapsed_ms;
    if (text.round == 0 && implied->kind != DECISION_WALKOVER) {
        struct clock_face face = desk_clock(desk, now_ms);
        text.round = officials.boxed;
        text.elapsed_ms = face.elapsed_ms;
    }
    struct entry entry = write_blank(desk, ENTRY_RESULT, now_ms);
    entry.code = CODE_ANNOUNCED;
    entry.off_clock = false;
    if (result_write(entry.text, sizeof entry.text, &text) && write_entry(desk, entry, now_ms)) {
        session_notice(desk, now_ms, false, "entered as implied: %s", implied->name);
    }
}

bool cards_key(struct desk *desk, int32_t key, struct meaning meaning, int64_t now_ms)
{
    struct card_cursor *at = &desk->card;
    int rounds = fold_clock(session_fold(desk))->plan.rounds;
    int boxed = fold_clock(session_fold(desk))->round;
    int last = boxed > rounds ? boxed : rounds;
    if (key != '+' && key != KEY_OF_INSERT) {
        desk->announcing = false;
    }
    if (keymap_digit(&desk->keymap, key) >= 0) {
        digit_key(desk, key, now_ms);
        return true;
    }
    if (meaning.action == ACTION_AMEND) {
        half_key(desk, now_ms);
        return true;
    }
    at->typed = 0;
    at->just_set = false;
    if (key == '+' || key == KEY_OF_INSERT) {
        announce_key(desk, now_ms);
    } else if (key == KEY_OF_ESC || meaning.action == ACTION_SCORECARDS) {
        desk->mode = DESK_LIVE;
    } else if (meaning.action == ACTION_LOG_NEWER || meaning.action == ACTION_LOG_OLDER) {
        int step = meaning.action == ACTION_LOG_NEWER ? seats(desk) - 1 : 1;
        at->seat = (at->seat + step) % seats(desk);
    } else if (meaning.action == ACTION_CLOCK_LESS || meaning.action == ACTION_CLOCK_MORE) {
        at->round += meaning.action == ACTION_CLOCK_LESS ? -1 : 1;
        at->round = at->round < 1 ? last : at->round > last ? 1 : at->round;
    } else if (meaning.action == ACTION_RED_INCIDENT) {
        name_key(desk, CORNER_RED, now_ms);
    } else if (meaning.action == ACTION_BLUE_INCIDENT) {
        name_key(desk, CORNER_BLUE, now_ms);
    } else {
        /* Anything else is a live key: the form closes and nothing typed is lost. */
        desk->mode = DESK_LIVE;
        return false;
    }
    return true;
}

bool desk_cards(const struct desk *desk, struct card_cursor *out)
{
    *out = desk->card;
    return desk->mode == DESK_CARDS;
}

/* --- what the rules say happens --- */

void limits_tell(struct desk *desk, enum corner corner, int64_t now_ms)
{
    char words[200];
    int round = desk_clock(desk, now_ms).round;
    struct limit_counts counts = officials_limits(session_fold(desk), corner, round);
    if (limit_notice(words, sizeof words, &desk->rules, &counts, corner)) {
        session_notice(desk, now_ms, true, "%s", words);
        desk->notice_until_ms = now_ms + 15000;
    }
}

void kicks_tell(struct desk *desk, int64_t now_ms)
{
    struct clock_face face = desk_clock(desk, now_ms);
    char red[120] = "", blue[120] = "";
    if (face.state != CLOCK_RUNNING || face.remaining_ms > KICKS_MS ||
        desk->kicks_told == face.round || desk->rules.kicks.minimum == 0) {
        return;
    }
    desk->kicks_told = face.round;
    const struct fold *fold = session_fold(desk);
    bool owes_red =
        kick_notice(red, sizeof red, &desk->rules,
                    officials_kicks(fold, &desk->rules, CORNER_RED, face.round), CORNER_RED);
    bool owes_blue =
        kick_notice(blue, sizeof blue, &desk->rules,
                    officials_kicks(fold, &desk->rules, CORNER_BLUE, face.round), CORNER_BLUE);
    if (owes_red || owes_blue) {
        session_notice(desk, now_ms, true, "%s%s%s", red, owes_red && owes_blue ? "; " : "", blue);
        desk->notice_until_ms = now_ms + 15000;
    }
}
