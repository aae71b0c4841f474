/* offices.c: which desk was official for red, blue and the clock, and from when. */
#include "tally/offices.h"

#include <stdlib.h>
#include <string.h>

#include "ringtally/base/grow.h"

static int role_of(enum entry_code code)
{
    return code == CODE_RED ? 0 : code == CODE_BLUE ? 1 : 2;
}

bool offices_reserve(struct offices *offices, size_t more)
{
    bool done = true;
    for (int role = 0; done && role < OFFICE_ROLES; role++) {
        done = grow_array(&offices->of[role], sizeof *offices->of[role], offices->count[role], more,
                          &offices->room[role]);
    }
    return done;
}

void offices_take(struct offices *offices, const struct entry *entry, int root)
{
    int role = role_of((enum entry_code)entry->code);
    offices->of[role][offices->count[role]++] = (struct office){*entry, root};
}

uint8_t offices_held(const struct offices *offices, int root, const struct entry *entry,
                     const struct desk_row *desks)
{
    uint8_t held = 0;
    for (int role = 0; role < OFFICE_ROLES; role++) {
        const struct office *of = offices->of[role];
        size_t count = offices->count[role];
        while (count > 0 && entry_compare(&of[count - 1].from, entry, desks) > 0) {
            count--;
        }
        held |= count > 0 && of[count - 1].root == root ? (uint8_t)(1u << role) : 0;
    }
    return held;
}

int offices_now(const struct offices *offices, enum entry_code what)
{
    int role = role_of(what);
    size_t count = offices->count[role];
    return count ? offices->of[role][count - 1].root : -1;
}

void offices_clear(struct offices *offices)
{
    memset(offices->count, 0, sizeof offices->count);
}

void offices_release(struct offices *offices)
{
    for (int role = 0; role < OFFICE_ROLES; role++) {
        free(offices->of[role]);
    }
}
