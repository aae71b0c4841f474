/* session.c: what every part of a desk asks of its session: whose view, whose entry, what time it
 * is. */
#include "desk/session.h"

#include <stdarg.h>
#include <stdio.h>

#define NOTICE_MS 5000
#define ASK_MS    5000

struct fold *session_fold(const struct desk *desk)
{
    return desk->own ? desk->own : desk->fold;
}

bool session_owns(const struct desk *desk, struct entry_name name)
{
    const struct desk_row *rows = NULL;
    fold_desks(desk->fold, &rows);
    return rows[name.desk].root == desk->root;
}

void session_notice(struct desk *desk, int64_t now_ms, bool urgent, const char *format, ...)
{
    va_list args;
    va_start(args, format);
    vsnprintf(desk->notice, sizeof desk->notice, format, args);
    va_end(args);
    desk->urgent = urgent;
    desk->notice_until_ms = now_ms + NOTICE_MS;
}

struct clock_face desk_clock(const struct desk *desk, int64_t now_ms)
{
    struct round_clock clock = session_clock(desk, now_ms);
    return clock_read(&clock, session_moment(desk, now_ms));
}

const char *session_closed(const struct desk *desk)
{
    return desk->watch               ? "this desk only watches: nothing is logged"
           : fold_signed(desk->fold) ? "the record is signed: nothing is logged any more"
                                     : NULL;
}

bool desk_is_read_only(const struct desk *desk)
{
    return session_closed(desk) != NULL;
}

bool desk_watches(const struct desk *desk)
{
    return desk->watch;
}

const struct desk_row *desk_self(const struct desk *desk)
{
    const struct desk_row *rows = NULL;
    fold_desks(desk->fold, &rows);
    return desk->watch ? &desk->watcher : &rows[desk->self];
}

bool desk_is_official(const struct desk *desk, enum entry_code what)
{
    return fold_official(desk->fold, what) == desk->root;
}

void session_stroke(struct desk *desk)
{
    desk->stroke_utc_ms = 0;
}

enum ask session_ask(struct desk *desk, enum action action, int64_t now_ms)
{
    struct question *question = &desk->question;
    if (question->action == action && question->answer_ms > 0 && now_ms >= question->answer_ms) {
        int asked = question->asked;
        *question = (struct question){.action = ACTION_NONE, .asked = asked};
        return ASK_YES;
    }
    if (question->action == action && now_ms < question->until_ms && question->answer_ms == 0) {
        question->answer_ms = now_ms + REPEAT_SLOW_MS;
        return ASK_WAIT;
    }
    int asked = question->asked;
    *question =
        (struct question){.action = action, .until_ms = now_ms + ASK_MS, .asked = asked + 1};
    return ASK_FIRST;
}
