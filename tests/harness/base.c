/* base.c: what the parts of the harness share. */
#include "base.h"

#include <errno.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

const char *const harness_sanitizers[] = {
    "ASAN_OPTIONS=exitcode=99:verify_asan_link_order=0", "UBSAN_OPTIONS=exitcode=99:print_stacktrace=1",
    "LSAN_OPTIONS=exitcode=99", "TSAN_OPTIONS=exitcode=99:halt_on_error=1", NULL};

_Noreturn void harness_die(const char *what)
{
    fprintf(stderr, "harness: %s: %s\n", what, strerror(errno));
    abort();
}
