/* repeat.h: REP ("the character before, N times more") written out.
 *
 * libvterm 0.1.4 leaves the cursor wrong after a REP that ends one column before the margin: the
 * next character wraps. So the emulator never sees one.
 */
#ifndef HARNESS_REPEAT_H
#define HARNESS_REPEAT_H

#include <stddef.h>

struct repeat {
    char last;         /* the byte before */
    char sequence[16]; /* an escape sequence of which only this much has come */
    size_t size;
};

typedef void repeat_sink(void *context, const char *bytes, size_t size);

/* Hands the bytes on, REP replaced; pieces may be cut anywhere. */
void repeat_expand(struct repeat *repeat, const char *bytes, size_t size, repeat_sink *sink,
                   void *context);

#endif
