/* with_rig.h: every test of these begins with a database of its own and ends without it. */
#ifndef SCREEN_WITH_RIG_H
#define SCREEN_WITH_RIG_H

#include "rig.h"

static inline int set_up(void **state)
{
    static struct rig rig;
    rig_init(&rig, PROGRAM, CARD);
    *state = &rig;
    return 0;
}

static inline int tear_down(void **state)
{
    rig_release(*state);
    return 0;
}

#endif
