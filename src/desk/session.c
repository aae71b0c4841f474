/* session.c: what every part of a desk asks of its session: whose view, whose entry, what time it
 * is. */
#include "desk/session.h"

#include <stdarg.h>
#include <stdio.h>

#define NOTICE_MS 5000

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
    return clock_read(fold_clock(session_fold(desk)), now_ms);
}

bool desk_is_read_only(const struct desk *desk)
{
    return fold_signed(desk->fold) != NULL;
}

const struct desk_row *desk_self(const struct desk *desk)
{
    const struct desk_row *rows = NULL;
    fold_desks(desk->fold, &rows);
    return &rows[desk->self];
}

bool desk_is_official(const struct desk *desk, enum entry_code what)
{
    return fold_official(desk->fold, what) == desk->root;
}
