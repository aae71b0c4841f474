/* error.c: one error, one message. */
#include "ringtally/base/error.h"

#include <stdarg.h>
#include <stdio.h>

#include "ringtally/base/text.h"

int(error_set)(struct error *err, int code, const char *format, ...)
{
    if (!err || err->code) {
        return code;
    }
    err->code = code;
    va_list args;
    va_start(args, format);
    vsnprintf(err->text, sizeof err->text, format, args);
    va_end(args);
    text_defuse(err->text);
    return code;
}

int(error_memory)(struct error *err)
{
    return error_set(err, ERROR_MEMORY, "out of memory");
}
