/* keyscript.h: key scripts, the form in which a session's keys are recorded and played.
 *
 * UTF-8 lines "SECONDS KEY": SECONDS a decimal number from the start, never falling; KEY one
 * printable character or a word (Space Enter Backspace Tab Left Right Up Down Delete Insert Esc
 * F1..F12); '#' starts a comment line. Behind KEY "pressed" or "held" may say what is known of the
 * press (keymap.h), where the terminal told it.
 */
#ifndef RINGTALLY_DESK_KEYSCRIPT_H
#define RINGTALLY_DESK_KEYSCRIPT_H

#include <stddef.h>
#include <stdint.h>

#include "ringtally/base/error.h"
#include "ringtally/desk/keymap.h"

struct script_key {
    int64_t at_ms; /* from the start */
    int32_t key;
    enum key_press press;
};

/* *out is malloc'd, the caller frees. */
int keyscript_parse(struct script_key **out, size_t *count, const char *text, size_t size,
                    const char *file, struct error *err);
/* One line, with its newline. */
const char *keyscript_line(char out[64], int64_t at_ms, int32_t key, enum key_press press);

#endif
