#include "ringtally/text.h"

#include <stdlib.h>
#include <string.h>

#include <utf8proc.h>

bool text_is_utf8(const char *text, size_t size)
{
    const uint8_t *at = (const uint8_t *)text;
    const uint8_t *end = at + size;
    while (at < end) {
        utf8proc_int32_t point = 0;
        utf8proc_ssize_t step = utf8proc_iterate(at, end - at, &point);
        if (step <= 0 || point == 0) {
            return false;
        }
        at += step;
    }
    return true;
}

/* What must never reach a terminal or hide in a name: controls, line breaks, surrogates, direction
 * overrides. Joiners stay: several scripts need them. */
static bool is_unwanted(utf8proc_int32_t point)
{
    if (point == 0x200c || point == 0x200d) {
        return false;
    }
    switch (utf8proc_category(point)) {
    case UTF8PROC_CATEGORY_CC:
    case UTF8PROC_CATEGORY_CF:
    case UTF8PROC_CATEGORY_CS:
    case UTF8PROC_CATEGORY_CO:
    case UTF8PROC_CATEGORY_CN:
    case UTF8PROC_CATEGORY_ZL:
    case UTF8PROC_CATEGORY_ZP:
        return true;
    default:
        return false;
    }
}

bool text_clean(char *out, size_t size, const char *text)
{
    bool done = false;
    size_t used = 0;
    bool gap = false;
    out[0] = '\0';
    if (!text_is_utf8(text, strlen(text))) {
        return false;
    }
    utf8proc_uint8_t *composed = utf8proc_NFC((const utf8proc_uint8_t *)text);
    if (!composed) {
        return false;
    }
    for (const utf8proc_uint8_t *at = composed; *at;) {
        utf8proc_int32_t point = 0;
        utf8proc_ssize_t step = utf8proc_iterate(at, -1, &point);
        if (step <= 0) {
            goto cleanup;
        }
        if (point == '\t' || utf8proc_category(point) == UTF8PROC_CATEGORY_ZS) {
            gap = used > 0;
        } else if (!is_unwanted(point)) {
            if (used + (size_t)gap + (size_t)step + 1 > size) {
                goto cleanup;
            }
            if (gap) {
                out[used++] = ' ';
                gap = false;
            }
            memcpy(out + used, at, (size_t)step);
            used += (size_t)step;
        }
        at += step;
    }
    out[used] = '\0';
    done = true;

cleanup:
    free(composed);
    if (!done) {
        out[0] = '\0';
    }
    return done;
}

int text_grapheme(const char **text, int32_t *points, int max, int *count)
{
    const utf8proc_uint8_t *at = (const utf8proc_uint8_t *)*text;
    int width = 0;
    int taken = 0;
    utf8proc_int32_t before = 0;
    utf8proc_int32_t state = 0;
    while (*at) {
        utf8proc_int32_t point = 0;
        utf8proc_ssize_t step = utf8proc_iterate(at, -1, &point);
        if (step <= 0) {
            point = 0xfffd;
            step = 1;
        }
        if (before && utf8proc_grapheme_break_stateful(before, point, &state)) {
            break;
        }
        int columns = utf8proc_charwidth(point);
        if (columns > width) {
            width = columns;
        }
        if (taken < max) {
            points[taken++] = point;
        }
        before = point;
        at += step;
    }
    if (!before) {
        return -1;
    }
    *text = (const char *)at;
    *count = taken;
    return width;
}

int text_width(const char *text)
{
    int32_t points[4];
    int count = 0;
    int total = 0;
    int width = 0;
    while ((width = text_grapheme(&text, points, 4, &count)) >= 0) {
        total += width;
    }
    return total;
}

void text_fit(char *out, size_t size, const char *text, int width, bool ascii)
{
    int room = width < 0 ? -width : width;
    int whole = text_width(text);
    int keep = whole > room ? room - 1 : room;
    int used = 0;
    size_t bytes = 0;
    const char *at = text;
    if (size == 0) {
        return;
    }
    if (width < 0 && whole < room) {
        for (; used < room - whole && bytes + 1 < size; used++) {
            out[bytes++] = ' ';
        }
        keep = room;
    }
    for (;;) {
        const char *next = at;
        int32_t points[4];
        int count = 0;
        int columns = text_grapheme(&next, points, 4, &count);
        if (columns < 0 || used + columns > keep || bytes + (size_t)(next - at) + 4 > size) {
            break;
        }
        memcpy(out + bytes, at, (size_t)(next - at));
        bytes += (size_t)(next - at);
        used += columns;
        at = next;
    }
    if (*at && room > 0 && used < room && bytes + 4 <= size) {
        const char *mark = ascii ? "~" : "\xe2\x80\xa6";
        memcpy(out + bytes, mark, strlen(mark));
        bytes += strlen(mark);
        used++;
    }
    for (; used < room && bytes + 1 < size; used++) {
        out[bytes++] = ' ';
    }
    out[bytes] = '\0';
}

int text_encode(char out[5], int32_t point)
{
    utf8proc_ssize_t size = utf8proc_encode_char(point, (utf8proc_uint8_t *)out);
    if (size <= 0) {
        out[0] = '?';
        size = 1;
    }
    out[size] = '\0';
    return (int)size;
}
