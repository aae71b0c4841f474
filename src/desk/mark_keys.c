/* mark_keys.c: what Space and the digits do to a strike. */
#include "desk/session.h"

bool mark_apply(struct strike *strike, enum action action)
{
    switch (action) {
    case ACTION_LANDED:
        strike_mark_landed(strike);
        return true;
    case ACTION_RED_SPINNING:
    case ACTION_BLUE_SPINNING:
        strike_mark_technique(strike, TECHNIQUE_SPINNING);
        return true;
    case ACTION_RED_JUMPING:
    case ACTION_BLUE_JUMPING:
        strike_mark_technique(strike, TECHNIQUE_JUMPING);
        return true;
    case ACTION_RED_BLOCKED:
    case ACTION_BLUE_BLOCKED:
        strike_mark_blocked(strike);
        return true;
    case ACTION_RED_KNOCKDOWN:
    case ACTION_BLUE_KNOCKDOWN:
        strike_mark_knockdown(strike);
        return true;
    default:
        return false;
    }
}

enum corner mark_corner(enum action action)
{
    if (action == ACTION_LANDED) {
        return CORNER_NONE;
    }
    return action <= ACTION_RED_SWITCH ? CORNER_RED : CORNER_BLUE;
}

bool mark_applies(enum action action)
{
    struct strike none = {0};
    return mark_apply(&none, action) || action == ACTION_CLINCH || action == ACTION_RED_SWITCH ||
           action == ACTION_BLUE_SWITCH;
}
