/* repeat.c: REP written out. */
#include "repeat.h"

#include <ctype.h>
#include <stdlib.h>

/* Takes one more byte of a sequence that begins as REP does. True where it goes on. */
static int goes_on(struct repeat *repeat, char byte)
{
    if (repeat->size == sizeof repeat->sequence - 1) {
        return 0;
    }
    return repeat->size == 1 ? byte == '[' : isdigit((unsigned char)byte);
}

void repeat_expand(struct repeat *repeat, const char *bytes, size_t size, repeat_sink *sink,
                   void *context)
{
    size_t start = 0;
    for (size_t i = 0; i < size; i++) {
        if (repeat->size == 0) {
            if (bytes[i] == '\033') {
                sink(context, bytes + start, i - start);
                repeat->sequence[repeat->size++] = bytes[i];
            } else {
                repeat->last = bytes[i];
            }
            continue;
        }
        if (goes_on(repeat, bytes[i])) {
            repeat->sequence[repeat->size++] = bytes[i];
            continue;
        }
        repeat->sequence[repeat->size] = '\0';
        start = i;
        if (bytes[i] == 'b' && repeat->size > 2) {
            for (int count = atoi(repeat->sequence + 2); count > 0; count--) {
                sink(context, &repeat->last, 1);
            }
            start = i + 1;
        } else {
            sink(context, repeat->sequence, repeat->size);
        }
        repeat->size = 0;
        if (start == i) {
            i--; /* may itself begin a sequence; it is looked at again */
        }
    }
    if (repeat->size == 0) {
        sink(context, bytes + start, size - start);
    }
}
