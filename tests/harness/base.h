/* base.h: what the parts of the harness share. */
#ifndef HARNESS_BASE_H
#define HARNESS_BASE_H

/* Options under which a sanitizer's finding is told apart from a program's own exit 1; ends with
 * NULL. */
extern const char *const harness_sanitizers[];

/* Says what failed, and errno; aborts. */
_Noreturn void harness_die(const char *what);

#endif
