/* buf.c: text that grows. */
#include "ringtally/base/buf.h"

#include <stdarg.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "ringtally/base/grow.h"
#include "ringtally/base/text.h"

static bool buf_reserve(struct buf *buf, size_t more)
{
    if (buf->failed) {
        return false;
    }
    buf->failed = more == SIZE_MAX || !grow_array(&buf->text, 1, buf->size, more + 1, &buf->room);
    return !buf->failed;
}

void buf_add(struct buf *buf, const char *text, size_t size)
{
    if (!buf_reserve(buf, size)) {
        return;
    }
    memcpy(buf->text + buf->size, text, size);
    buf->size += size;
    buf->text[buf->size] = '\0';
}

void buf_adds(struct buf *buf, const char *text)
{
    buf_add(buf, text, strlen(text));
}

void buf_addf(struct buf *buf, const char *format, ...)
{
    va_list args;
    va_start(args, format);
    va_list again;
    va_copy(again, args);
    int size = vsnprintf(NULL, 0, format, args);
    va_end(args);
    if (size < 0) {
        buf->failed = true;
    } else if (buf_reserve(buf, (size_t)size)) {
        vsnprintf(buf->text + buf->size, (size_t)size + 1, format, again);
        buf->size += (size_t)size;
    }
    va_end(again);
}

void buf_add_fit(struct buf *buf, const char *text, int width)
{
    size_t columns = (size_t)(width < 0 ? -width : width);
    if (!buf_reserve(buf, 4 * columns + 8)) {
        return;
    }
    text_fit(buf->text + buf->size, 4 * columns + 8, text, width, false);
    buf->size += strlen(buf->text + buf->size);
}

void buf_add_wrapped(struct buf *buf, const char *text, int indent, int width)
{
    int used = indent;
    while (*text) {
        char word[256];
        size_t size = strcspn(text, " ");
        snprintf(word, sizeof word, "%.*s", (int)size, text);
        int columns = text_width(word);
        if (used > indent && used + 1 + columns > width) {
            buf_addf(buf, "\n%*s", indent, "");
            used = indent;
        } else if (used > indent) {
            buf_adds(buf, " ");
            used++;
        }
        buf_add(buf, text, size);
        used += columns;
        text += size;
        text += *text == ' ';
    }
    buf_adds(buf, "\n");
}

void buf_release(struct buf *buf)
{
    free(buf->text);
    *buf = (struct buf)BUF_INIT;
}

void buf_add_xml(struct buf *buf, const char *text)
{
    for (; *text; text++) {
        switch (*text) {
        case '&':
            buf_adds(buf, "&amp;");
            break;
        case '<':
            buf_adds(buf, "&lt;");
            break;
        case '>':
            buf_adds(buf, "&gt;");
            break;
        default:
            buf_add(buf, text, 1);
            break;
        }
    }
}
