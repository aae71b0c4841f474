/* error.h: how a failure travels up.
 *
 * A function that can fail returns 0, or a negative `enum error_code`, and takes `struct error *`
 * as its last argument. The message is made once, where the cause is known, and is one line that
 * names file, line and reason where there are any; nobody on the way up overwrites it. Libraries
 * never print.
 */
#ifndef RINGTALLY_BASE_ERROR_H
#define RINGTALLY_BASE_ERROR_H

enum error_code {
    ERROR_FAILED = -1,  /* exit 1: the input or the machine said no */
    ERROR_USAGE = -2,   /* exit 2: the words of the call are off */
    ERROR_MEMORY = -3,  /* exit 1: an allocation failed */
    ERROR_MISSING = -5, /* exit 1: nothing of that name is there */
    ERROR_LOST = -6,    /* exit 1: what was opened stands no more where it stood */
    ERROR_AWAY = -7,    /* exit 1: the other end of a connection is gone; it may come back */
    ERROR_BUSY = -4,    /* exit 1: another process holds what is needed; may go through later */
};

struct error {
    int code;
    char text[512];
};

#if defined(__GNUC__)
#define PRINTF_LIKE(text, args) __attribute__((format(printf, text, args)))
#else
#define PRINTF_LIKE(text, args)
#endif

/* Sets the message unless one is there already; returns `code`. `err` may be NULL.
 * What must not reach a terminal becomes '?', so that a name in it cannot drive a terminal. */
int error_set(struct error *err, int code, const char *format, ...) PRINTF_LIKE(3, 4);

/* "out of memory", ERROR_MEMORY. */
int error_memory(struct error *err);

#if defined(__clang_analyzer__) || defined(RINGTALLY_ANALYSE)
/* Analysers follow no call into another file: that an error is never 0 they are told
 * (tests/analyse.sh). */
static inline int error_told(int told, int code)
{
    (void)told;
    return code;
}
#define error_set(err, code, ...) error_told(error_set(err, code, __VA_ARGS__), code)
#define error_memory(err)         error_told(error_memory(err), ERROR_MEMORY)
#endif

#endif
