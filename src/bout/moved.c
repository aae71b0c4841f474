/* moved.c: the notes of entries that were moved to another bout. */
#include "ringtally/bout/moved.h"

#include <stdio.h>
#include <string.h>

static const char to_words[] = "moved to ";
static const char from_words[] = "moved here from ";

static struct entry note(const char *words, const struct bout *bout, int64_t count)
{
    struct entry entry = {.kind = ENTRY_NOTE, .undoes = ENTRY_NONE, .value = count};
    snprintf(entry.text, sizeof entry.text, "%s%s/%d", words, bout->card, bout->number);
    return entry;
}

static bool is_note(const struct entry *entry, const char *words, const struct bout *bout)
{
    struct entry wanted = note(words, bout, 0);
    return entry->kind == ENTRY_NOTE && strcmp(entry->text, wanted.text) == 0;
}

struct entry moved_to(const struct bout *to, int64_t count)
{
    return note(to_words, to, count);
}

struct entry moved_from(const struct bout *from, int64_t count)
{
    return note(from_words, from, count);
}

bool moved_is_to(const struct entry *entry, const struct bout *to)
{
    return is_note(entry, to_words, to);
}

bool moved_is_from(const struct entry *entry, const struct bout *from)
{
    return is_note(entry, from_words, from);
}

bool moved_is_note(const struct entry *entry)
{
    return entry->kind == ENTRY_NOTE && (strncmp(entry->text, to_words, strlen(to_words)) == 0 ||
                                         strncmp(entry->text, from_words, strlen(from_words)) == 0);
}
