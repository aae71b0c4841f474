/* text.h: UTF-8 as people read it: clean, measured in terminal columns, cut at grapheme borders. */
#ifndef RINGTALLY_BASE_TEXT_H
#define RINGTALLY_BASE_TEXT_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

/* Copies `text` into out[size], normalised (NFC), control and other invisible format characters
 * and more than eight marks over one character dropped, blank runs made one space, ends trimmed. False if it is no UTF-8 or does not fit: out is
 * then "". */
bool text_clean(char *out, size_t size, const char *text);

/* True where the bytes are valid UTF-8 without NUL. */
bool text_is_utf8(const char *text, size_t size);

/* Writes what is compared where case and accents shall not matter: case-folded, without marks.
 * False if it is no UTF-8 or does not fit: out is then "". */
bool text_key(char *out, size_t size, const char *text);

/* Overwrites with '?' each byte of what must never reach a terminal: controls, direction overrides,
 * line breaks, bytes that are no UTF-8. */
void text_defuse(char *text);

/* Terminal columns that the text takes, by the rule of wcwidth, which curses and terminals follow:
 * wide characters two, combining ones none, spacing marks one. */
int text_width(const char *text);

/* Writes the text cut or padded to exactly `width` columns into out[size] (an ellipsis marks a cut;
 * `ascii` makes it a '~'). Negative width: aligned to the right. With size >= 4 *
 * |width| + 8 the width is always kept; where marks heaped on a letter need more, the text is cut.
 */
void text_fit(char *out, size_t size, const char *text, int width, bool ascii);

/* Reads what one terminal cell shows at *text (a spacing character with the combining ones behind
 * it) and moves *text behind it: up to `max` code points into `points`, their number into *count,
 * the columns returned. At the end returns -1. Never reads past the NUL. */
int text_grapheme(const char **text, int32_t *points, int max, int *count);

/* The letter without its accents (e for é); the code point itself where it has none. */
int32_t text_base_letter(int32_t point);

/* The small letter of a capital; the code point itself where it is none. */
int32_t text_lower(int32_t point);
/* And the other way round. */
int32_t text_upper(int32_t point);

/* Writes the code point as UTF-8 with its NUL; returns its bytes (1 to 4). */
int text_encode(char out[5], int32_t point);

#endif
