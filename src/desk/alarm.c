/* alarm.c: what must not be missed, besides the notice: a bell and a flash for whoever has the eyes
 * on the ring. */
#include "desk/session.h"

#define FLASH_MS    2000
#define FLASH_ON_MS 250 /* twice a second: no more than three in any second (WCAG 2.2, 2.3.1) */
#define AGAIN_MS    15000
#define SLOW_MS     2000 /* unsaved entries that wait longer are an alarm, as on the panel */
#define STANDS_MS   8000 /* within which OFF_CLOCK strikes on a clock that stands are no chance */

void alarm_raise(struct desk *desk, enum desk_alarm alarm, int64_t now_ms)
{
    desk->alarms.raised |= (unsigned)alarm;
    desk->alarms.flash_until_ms = now_ms + FLASH_MS;
}

bool alarm_again(int64_t *told_ms, int64_t now_ms)
{
    if (*told_ms && now_ms - *told_ms < AGAIN_MS) {
        return false;
    }
    *told_ms = now_ms;
    return true;
}

void alarm_off_clock(struct desk *desk, int64_t now_ms)
{
    struct alarms *alarms = &desk->alarms;
    struct clock_face face = desk_clock(desk, now_ms);
    char key[16];
    for (int i = OFF_CLOCK - 1; i > 0; i--) {
        alarms->off_clock_ms[i] = alarms->off_clock_ms[i - 1];
    }
    alarms->off_clock_ms[0] = now_ms;
    int64_t first_ms = alarms->off_clock_ms[OFF_CLOCK - 1];
    if (!first_ms || now_ms - first_ms > STANDS_MS) {
        session_notice(desk, now_ms, false, "off the clock: logged in round %d", face.round);
        return;
    }
    alarm_raise(desk, ALARM_CLOCK, now_ms);
    key_word(key, desk->keymap.action[ACTION_CLOCK]);
    if (face.state == CLOCK_OVER) {
        session_notice(desk, now_ms, true, "THE BOUT IS OVER: strikes are logged off the clock");
    } else if (!desk_is_official(desk, CODE_CLOCK)) {
        session_notice(desk, now_ms, true, "THE CLOCK STANDS while strikes come: it is with %s",
                       office_holder(desk, CODE_CLOCK));
    } else if (face.state == CLOCK_STOPPED) {
        session_notice(desk, now_ms, true, "THE CLOCK STANDS while strikes come: %s starts it",
                       key);
    } else {
        session_notice(desk, now_ms, true,
                       "THE CLOCK STANDS while strikes come: %s starts round %d", key,
                       face.state == CLOCK_READY ? 1 : face.round + 1);
    }
}

void alarm_on_clock(struct desk *desk)
{
    for (int i = 0; i < OFF_CLOCK; i++) {
        desk->alarms.off_clock_ms[i] = 0;
    }
}

void desk_hear_saved(struct desk *desk, const struct saved_state *saved, int64_t now_ms)
{
    seen_look(desk, now_ms);
    if (!saved->failing && saved->oldest_ms < SLOW_MS) {
        desk->alarms.unsaved_told_ms = 0;
    } else if (alarm_again(&desk->alarms.unsaved_told_ms, now_ms)) {
        alarm_raise(desk, ALARM_UNSAVED, now_ms);
    }
}

unsigned desk_alarms(struct desk *desk)
{
    unsigned raised = desk->alarms.raised;
    desk->alarms.raised = 0;
    return raised;
}

bool desk_flash(const struct desk *desk, int64_t now_ms)
{
    int64_t left = desk->alarms.flash_until_ms - now_ms;
    return left > 0 && left <= FLASH_MS && (left - 1) / FLASH_ON_MS % 2 == 1;
}

int64_t alarm_next_change(const struct desk *desk, int64_t now_ms)
{
    int64_t left = desk->alarms.flash_until_ms - now_ms;
    return left > 0 ? now_ms + (left - 1) % FLASH_ON_MS + 1 : INT64_MAX;
}
