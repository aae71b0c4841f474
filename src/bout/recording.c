/* recording.c: the note of a desk that tags from a recording. */
#include "ringtally/bout/recording.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

static const char head[] = "recording at ";
static const char middle[] = " frames a second: ";

void recording_print(char out[TEXT_BYTES], struct recording *recording)
{
    int used = snprintf(out, TEXT_BYTES, "%s%d.%03d%s", head, recording->rate_mhz / 1000,
                        recording->rate_mhz % 1000, middle);
    size_t room = (size_t)(TEXT_BYTES - 1 - used);
    size_t size = strlen(recording->name);
    size = size < room ? size : room;
    while (size > 0 && recording->name[size] &&
           ((unsigned char)recording->name[size] & 0xc0) == 0x80) {
        size--; /* not within a character */
    }
    recording->name[size] = '\0';
    memcpy(out + used, recording->name, size + 1);
}

bool recording_read(struct recording *out, const struct entry *entry)
{
    char *end = NULL;
    if (entry->kind != ENTRY_NOTE || strncmp(entry->text, head, sizeof head - 1) != 0) {
        return false;
    }
    const char *at = entry->text + sizeof head - 1;
    long whole = strtol(at, &end, 10);
    if (end == at || *end != '.' || whole < 0 || whole > 1000) {
        return false;
    }
    at = end + 1;
    long part = strtol(at, &end, 10);
    if (end != at + 3 || part < 0 || strncmp(end, middle, sizeof middle - 1) != 0) {
        return false;
    }
    out->rate_mhz = (int32_t)(whole * 1000 + part);
    snprintf(out->name, sizeof out->name, "%s", end + sizeof middle - 1);
    return true;
}

int64_t recording_frame(const struct recording *recording, int64_t media_ms)
{
    return recording->rate_mhz > 0 ? (media_ms * recording->rate_mhz + 500000) / 1000000 : -1;
}
