/* clock_form_keys.c: the clock is set by typing: what is left of the round or the rest, or how late
 * it was started. */
#include <stdio.h>
#include <string.h>

#include "ringtally/base/when.h"
#include "desk/session.h"

#define DIGITS   4      /* MMSS */
#define LATE_MAX 600000 /* later nobody notices that a round has begun */

/* Which fields there are now; the first of them is where the form opens. */
static bool has_field(const struct clock_face *face, enum clock_field field)
{
    switch (field) {
    case CLOCK_FIELD_REST:
        return face->state == CLOCK_REST && face->remaining_ms > 0;
    case CLOCK_FIELD_ROUND:
        return face->state != CLOCK_READY;
    default:
        return face->state != CLOCK_OVER;
    }
}

static void next_field(struct clock_form *form, const struct clock_face *face)
{
    do {
        form->field = (enum clock_field)((form->field + 1) % CLOCK_FIELDS);
    } while (!has_field(face, form->field));
    form->typed = 0;
    form->value_ms = -1;
}

void clock_form_enter(struct desk *desk, int64_t now_ms)
{
    struct clock_face face = desk_clock(desk, now_ms);
    if (clock_ended(desk)) {
        session_notice(desk, now_ms, true, "the bout is over, its clock stands: F4 reopens it");
        return;
    }
    if (!clock_is_here(desk, now_ms)) {
        return;
    }
    desk->mode = DESK_CLOCK;
    desk->mode_until_ms = 0;
    desk->clock_form = (struct clock_form){.field = CLOCK_FIELDS - 1};
    next_field(&desk->clock_form, &face);
}

/* What the field would be set to: as typed, else as it stands. */
static int64_t value_of(const struct clock_form *form, const struct clock_face *face)
{
    if (form->value_ms >= 0) {
        return form->value_ms;
    }
    bool stands = (form->field == CLOCK_FIELD_REST && face->state == CLOCK_REST) ||
                  (form->field == CLOCK_FIELD_ROUND &&
                   (face->state == CLOCK_RUNNING || face->state == CLOCK_STOPPED));
    return stands ? (face->remaining_ms + 999) / 1000 * 1000 : 0;
}

static void digit_key(struct clock_form *form, int digit)
{
    form->digit[form->typed++] = (uint8_t)digit;
    int64_t number = 0;
    for (int i = 0; i < form->typed; i++) {
        number = number * 10 + form->digit[i];
    }
    /* Seconds are what they are; of a time the last two digits are the seconds. */
    form->value_ms =
        form->field == CLOCK_FIELD_LATE ? number * 1000 : (number / 100 * 60 + number % 100) * 1000;
}

static void rub_out(struct clock_form *form)
{
    int left = form->typed - 1;
    form->typed = 0;
    form->value_ms = -1;
    for (int i = 0; i < left; i++) {
        digit_key(form, form->digit[i]);
    }
}

/* The arrows mean here what they mean outside: Right lets the clock go on. */
static void arrow_key(struct desk *desk, const struct clock_face *face, int seconds, int64_t now_ms)
{
    struct clock_form *form = &desk->clock_form;
    int way = form->field == CLOCK_FIELD_LATE ? 1 : -1;
    int64_t value = value_of(form, face) + (int64_t)seconds * 1000 * way;
    if (value < 0 && form->value_ms == 0) {
        session_notice(desk, now_ms, false, "less than nothing cannot be set");
    }
    form->value_ms = value < 0 ? 0 : value;
    form->typed = 0;
}

/* One entry, whatever the distance. */
static void set_passed(struct desk *desk, int64_t passed_ms, int64_t now_ms)
{
    char left[WHEN_SIZE];
    const struct round_clock *clock = fold_clock(session_fold(desk));
    struct clock_face face = desk_clock(desk, now_ms);
    struct entry nudge = {.code = CODE_NUDGE,
                          .round = (uint8_t)face.round,
                          .elapsed_ms = face.elapsed_ms,
                          .value = passed_ms - clock_passed(clock, now_ms)};
    if (!clock_write(desk, nudge, now_ms)) {
        return;
    }
    face = desk_clock(desk, now_ms);
    when_clock(left, face.remaining_ms + 999);
    if (face.state == CLOCK_REST) {
        session_notice(desk, now_ms, false, "set: %s of the rest are left", left);
    } else {
        session_notice(desk, now_ms, false, "set: %s left in round %d, the clock %s", left,
                       face.round, face.state == CLOCK_RUNNING ? "runs" : "stands");
    }
}

static void set_key(struct desk *desk, int64_t now_ms)
{
    char most[WHEN_SIZE];
    struct clock_form *form = &desk->clock_form;
    struct clock_face face = desk_clock(desk, now_ms);
    const struct clock_plan *plan = &fold_clock(session_fold(desk))->plan;
    int32_t length = clock_round_length(plan, face.round);
    int64_t value = value_of(form, &face);
    if (form->field == CLOCK_FIELD_LATE) {
        if (value > LATE_MAX) {
            session_notice(desk, now_ms, true, "at most %d seconds", LATE_MAX / 1000);
        } else if (value == 0) {
            session_notice(desk, now_ms, true, "how many seconds ago? digits, then Enter");
        } else {
            live(desk);
            late_set(desk, value, now_ms);
        }
        return;
    }
    bool rest = form->field == CLOCK_FIELD_REST;
    if (form->value_ms < 0) {
        live(desk); /* nothing was typed: nothing is set */
        return;
    }
    if (value > (rest ? plan->rest_ms : length)) {
        session_notice(desk, now_ms, true, "a %s is %s long", rest ? "rest" : "round",
                       when_clock(most, rest ? plan->rest_ms : length));
        return;
    }
    live(desk);
    set_passed(desk, rest ? length + plan->rest_ms - value : length - value, now_ms);
}

bool clock_form_key(struct desk *desk, int32_t key, struct meaning meaning, int64_t now_ms)
{
    struct clock_form *form = &desk->clock_form;
    struct clock_face face = desk_clock(desk, now_ms);
    int digit = keymap_digit(&desk->keymap, key);
    if (!has_field(&face, form->field)) { /* the bell has rung meanwhile */
        next_field(form, &face);
    }
    if (digit >= 0 && form->typed == DIGITS) {
        session_notice(desk, now_ms, false, "four digits at most: Backspace takes one back");
    } else if (digit >= 0) {
        digit_key(form, digit);
    } else if (key == KEY_OF_BACKSPACE && form->value_ms < 0) {
        session_notice(desk, now_ms, false, "nothing is typed: Esc leaves");
    } else if (key == KEY_OF_BACKSPACE) {
        rub_out(form);
    } else if (key == KEY_OF_TAB || key == '+') {
        enum clock_field was = form->field;
        next_field(form, &face);
        if (form->field == was) {
            session_notice(desk, now_ms, false, "there is nothing else to set now");
        }
    } else if (key == KEY_OF_ENTER) {
        set_key(desk, now_ms);
    } else if (meaning.action == ACTION_CLOCK_LESS || meaning.action == ACTION_CLOCK_MORE) {
        arrow_key(desk, &face, meaning.action == ACTION_CLOCK_MORE ? 1 : -1, now_ms);
    } else if (meaning.action == ACTION_CLOCK_LESS_TEN || meaning.action == ACTION_CLOCK_MORE_TEN) {
        arrow_key(desk, &face, meaning.action == ACTION_CLOCK_MORE_TEN ? 10 : -10, now_ms);
    } else {
        live(desk);
        return key == KEY_OF_ESC || meaning.action == ACTION_CLOCK_SET;
    }
    return true;
}

bool desk_clock_form(const struct desk *desk, int64_t now_ms, char *out, size_t size)
{
    char typed[WHEN_SIZE];
    const struct clock_form *form = &desk->clock_form;
    struct clock_face face = desk_clock(desk, now_ms);
    const char *stands = form->value_ms < 0 ? "as it stands: " : "";
    if (desk->mode != DESK_CLOCK) {
        return false;
    }
    switch (form->field) {
    case CLOCK_FIELD_LATE:
        snprintf(typed, sizeof typed, "%lld", (long long)(value_of(form, &face) / 1000));
        bool begun = face.state == CLOCK_RUNNING || face.state == CLOCK_STOPPED;
        snprintf(out, size,
                 begun ? "round %d was started %s seconds late" : "round %d began %s seconds ago",
                 face.round + (face.state == CLOCK_REST), form->value_ms < 0 ? "_" : typed);
        break;
    case CLOCK_FIELD_REST:
        snprintf(out, size, "%s%s left of the rest", stands,
                 when_clock(typed, value_of(form, &face)));
        break;
    default:
        snprintf(out, size, "%s%s left in round %d", stands,
                 when_clock(typed, value_of(form, &face)), face.round);
        break;
    }
    return true;
}
