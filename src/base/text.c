/* text.c: UTF-8: cleaned, measured and fitted. */
#include "ringtally/base/text.h"

#include <string.h>

#include <utf8proc.h>
#include "base/foreign.h"

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

/* Marks that lie over a character: a name has a few, a flood of them covers the lines around it. */
#define MARKS_MAX 8

/* Whether the character is one mark too many; *run counts those in a row. */
static bool is_flood(utf8proc_int32_t point, int *run)
{
    utf8proc_category_t category = utf8proc_category(point);
    bool mark = category == UTF8PROC_CATEGORY_MN || category == UTF8PROC_CATEGORY_ME;
    *run = mark ? *run + 1 : 0;
    return *run > MARKS_MAX;
}

void text_defuse(char *text)
{
    char *out = text;
    int marks = 0;
    for (const char *at = text; *at;) {
        utf8proc_int32_t point = 0;
        utf8proc_ssize_t step = utf8proc_iterate((const utf8proc_uint8_t *)at, -1, &point);
        bool bad = step <= 0 || is_unwanted(point);
        size_t size = step <= 0 ? 1 : (size_t)step;
        if (bad) {
            memset(out, '?', size);
            out += size;
        } else if (!is_flood(point, &marks)) {
            memmove(out, at, size);
            out += size;
        }
        at += size;
    }
    *out = '\0';
}

/* Of what is cleaned: far more than any text here holds. */
#define POINTS_MAX 4096

/* The code points of the text, mapped; -1: it is no UTF-8 or too long. It asks for no memory, so
 * that a text is never refused for the want of it. */
static utf8proc_ssize_t map_points(utf8proc_int32_t out[POINTS_MAX], const char *text, int how)
{
    utf8proc_option_t options = (utf8proc_option_t)(how | UTF8PROC_NULLTERM | UTF8PROC_STABLE);
    utf8proc_ssize_t count =
        utf8proc_decompose((const utf8proc_uint8_t *)text, 0, out, POINTS_MAX, options);
    if (count < 0 || count > POINTS_MAX) {
        return -1;
    }
    foreign_bytes(out, (size_t)count * sizeof *out);
    return utf8proc_normalize_utf32(out, count, options);
}

/* Appends a code point, with a blank before it where there is a gap; false: it does not fit. */
static bool put_point(char *out, size_t size, size_t *used, bool gap, utf8proc_int32_t point)
{
    utf8proc_uint8_t bytes[4];
    utf8proc_ssize_t step = utf8proc_encode_char(point, bytes);
    foreign_bytes(bytes, sizeof bytes);
    if (step <= 0 || *used + (size_t)gap + (size_t)step + 1 > size) {
        return false;
    }
    if (gap) {
        out[(*used)++] = ' ';
    }
    memcpy(out + *used, bytes, (size_t)step);
    *used += (size_t)step;
    return true;
}

bool text_clean(char *out, size_t size, const char *text)
{
    utf8proc_int32_t points[POINTS_MAX];
    size_t used = 0;
    int marks = 0;
    bool gap = false;
    utf8proc_ssize_t count =
        text_is_utf8(text, strlen(text)) ? map_points(points, text, UTF8PROC_COMPOSE) : -1;
    bool done = count >= 0;
    for (utf8proc_ssize_t i = 0; i < count && done; i++) {
        if (points[i] == '\t' || utf8proc_category(points[i]) == UTF8PROC_CATEGORY_ZS) {
            gap = used > 0;
        } else if (!is_unwanted(points[i]) && !is_flood(points[i], &marks)) {
            done = put_point(out, size, &used, gap, points[i]);
            gap = false;
        }
    }
    out[done ? used : 0] = '\0';
    return done;
}

bool text_key(char *out, size_t size, const char *text)
{
    utf8proc_int32_t points[POINTS_MAX];
    size_t used = 0;
    utf8proc_ssize_t count = map_points(points, text,
                                        UTF8PROC_DECOMPOSE | UTF8PROC_COMPAT | UTF8PROC_CASEFOLD |
                                            UTF8PROC_STRIPMARK | UTF8PROC_IGNORE);
    bool done = count >= 0;
    for (utf8proc_ssize_t i = 0; i < count && done; i++) {
        done = put_point(out, size, &used, false, points[i]);
    }
    out[done ? used : 0] = '\0';
    return done;
}

/* Columns by the rule of wcwidth, which terminals and curses follow. It differs from utf8proc's in
 * two places: a spacing mark (a vowel sign of an Indic script) has a column of its own, the middle
 * and end of a Hangul syllable have none. */
static int point_columns(utf8proc_int32_t point)
{
    const utf8proc_property_t *property = utf8proc_get_property(point);
    if (property->boundclass == UTF8PROC_BOUNDCLASS_V ||
        property->boundclass == UTF8PROC_BOUNDCLASS_T) {
        return 0;
    }
    return property->category == UTF8PROC_CATEGORY_MC ? 1 : property->charwidth;
}

/* The code point at `at` and its length in bytes: U+FFFD and 1 for a byte that is no UTF-8. */
static int point_at(const char *at, utf8proc_int32_t *point)
{
    utf8proc_ssize_t step = utf8proc_iterate((const utf8proc_uint8_t *)at, -1, point);
    if (step <= 0) {
        *point = 0xfffd;
        step = 1;
    }
    return (int)step;
}

int text_grapheme(const char **text, int32_t *points, int max, int *count)
{
    const char *at = *text;
    int width = 0;
    int taken = 0;
    while (*at) {
        utf8proc_int32_t point = 0;
        int step = point_at(at, &point);
        int columns = point_columns(point);
        if (at != *text && columns > 0) {
            break;
        }
        width += columns;
        if (taken < max) {
            points[taken++] = point;
        }
        at += step;
    }
    if (at == *text) {
        return -1;
    }
    *text = at;
    *count = taken;
    return width;
}

int text_width(const char *text)
{
    int total = 0;
    while (*text) {
        utf8proc_int32_t point = 0;
        if (*text >= 0x20 && *text <= 0x7e) { /* most of it; the panel measures a lot */
            text++;
            total++;
            continue;
        }
        text += point_at(text, &point);
        total += point_columns(point);
    }
    return total;
}

/* Bytes of the grapheme cluster at `at`, 0 at the end; its columns into *columns. */
static size_t cluster_at(const char *at, int *columns)
{
    const char *start = at;
    utf8proc_int32_t before = 0, state = 0;
    *columns = 0;
    while (*at) {
        utf8proc_int32_t point = 0;
        int step = point_at(at, &point);
        if (before && utf8proc_grapheme_break_stateful(before, point, &state)) {
            break;
        }
        *columns += point_columns(point);
        before = point;
        at += step;
    }
    return (size_t)(at - start);
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
        int columns = 0;
        size_t step = cluster_at(at, &columns);
        /* What is left of the width takes at least a byte a column, and two more for an ellipsis.
         */
        if (step == 0 || used + columns > keep ||
            bytes + step + (size_t)(room - used - columns) + 3 > size) {
            break;
        }
        memcpy(out + bytes, at, step);
        bytes += step;
        used += columns;
        at += step;
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

int32_t text_lower(int32_t point)
{
    return point > 0x10ffff ? point : utf8proc_tolower(point);
}

int32_t text_upper(int32_t point)
{
    return point > 0x10ffff ? point : utf8proc_toupper(point);
}

int text_encode(char out[5], int32_t point)
{
    utf8proc_ssize_t size = utf8proc_encode_char(point, (utf8proc_uint8_t *)out);
    if (size <= 0) {
        out[0] = '?';
        size = 1;
    }
    foreign_bytes(out, (size_t)size);
    out[size] = '\0';
    return (int)size;
}

int32_t text_base_letter(int32_t point)
{
    utf8proc_int32_t parts[16];
    utf8proc_ssize_t count = utf8proc_decompose_char(point, parts, 16, UTF8PROC_DECOMPOSE, NULL);
    return count > 0 ? parts[0] : point;
}
