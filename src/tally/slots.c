/* slots.c: where a name of an entry leads. */
#include "tally/slots.h"

#include <stdlib.h>

static size_t slot_start(struct entry_name name, size_t room)
{
    uint64_t hash = (uint64_t)name.seq * 0x9e3779b97f4a7c15u ^ (uint64_t)name.desk << 40;
    return (size_t)(hash ^ hash >> 29) & (room - 1);
}

struct slot *slots_find(const struct slots *slots, struct entry_name name)
{
    if (slots->room == 0 || name.desk < 0) {
        return NULL;
    }
    size_t at = slot_start(name, slots->room);
    for (; slots->slot[at].name.desk >= 0; at = (at + 1) & (slots->room - 1)) {
        if (entry_same(slots->slot[at].name, name)) {
            return &slots->slot[at];
        }
    }
    return NULL;
}

static struct slot *put(struct slot *table, size_t room, struct slot slot)
{
    size_t at = slot_start(slot.name, room);
    while (table[at].name.desk >= 0) {
        at = (at + 1) & (room - 1);
    }
    table[at] = slot;
    return &table[at];
}

bool slots_reserve(struct slots *slots, size_t more)
{
    size_t room = slots->room ? slots->room : 256;
    while ((slots->count + more) * 2 > room) {
        room *= 2;
    }
    if (room == slots->room) {
        return true;
    }
    struct slot *table = malloc(room * sizeof *table);
    if (!table) {
        return false;
    }
    for (size_t i = 0; i < room; i++) {
        table[i].name = ENTRY_NONE;
    }
    for (size_t i = 0; i < slots->room; i++) {
        if (slots->slot[i].name.desk >= 0) {
            put(table, room, slots->slot[i]);
        }
    }
    free(slots->slot);
    slots->slot = table;
    slots->room = room;
    return true;
}

struct slot *slots_place(struct slots *slots, struct slot slot)
{
    slots->count++;
    return put(slots->slot, slots->room, slot);
}

void slots_clear(struct slots *slots)
{
    slots->count = 0;
    for (size_t i = 0; i < slots->room; i++) {
        slots->slot[i].name = ENTRY_NONE;
    }
}
