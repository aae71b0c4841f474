/* usage.c: what `--help` prints, as wide as the narrowest console. */
#include "cli/cli.h"

#include <string.h>

#define COLUMNS     80
#define USAGE_HANG  17 /* what follows a line of words of a call */
#define OPTION_HANG 19 /* where an option's explanation begins */

static int indent_of(const char *line)
{
    return (int)strspn(line, " ");
}

static bool is_call(const char *line)
{
    return strncmp(line, "usage: ", 7) == 0 || strncmp(line, "  ringtally ", 12) == 0;
}

/* Where lines go on that belong to this one. */
static int hang_of(const char *line)
{
    return is_call(line) ? USAGE_HANG : indent_of(line) > 0 ? OPTION_HANG : 0;
}

/* Whether the next line only goes on with this one. */
static bool goes_on(const char *line, const char *next)
{
    int hang = hang_of(line);
    return *next && *next != '\n' &&
           (hang > 0 ? indent_of(next) >= USAGE_HANG : indent_of(next) == 0);
}

/* Bytes of the next word; "[--key FILE]" is one where a line has room for it, and begins a line
 * where none has. */
static int word_size(const char *at, int room, bool begun)
{
    size_t size = 0;
    int depth = 0;
    for (; at[size] && at[size] != '\n' && (at[size] != ' ' || depth > 0); size++) {
        depth += (at[size] == '[') - (at[size] == ']');
    }
    return (int)((int)size <= room || begun ? size : strcspn(at, " \n"));
}

/* Past what parts two words; how many blanks that is. 0: the paragraph ends here. */
static int part(const char **at, const char *line)
{
    int gap = indent_of(*at);
    *at += gap;
    if (**at == '\n' && goes_on(line, *at + 1)) {
        *at += 1 + indent_of(*at + 1);
        gap = 1;
    }
    return **at && **at != '\n' ? gap : 0;
}

void usage_print(FILE *out, const char *text)
{
    while (*text) {
        const char *line = text;
        int hang = hang_of(line);
        int used = 0;
        for (int gap = indent_of(text); *text && *text != '\n'; gap = part(&text, line)) {
            text += used == 0 ? gap : 0;
            int size = word_size(text, COLUMNS - hang, used > hang);
            if (used > hang && used + gap + size > COLUMNS) {
                fprintf(out, "\n%*s", hang, "");
                used = hang;
                gap = 0;
                size = word_size(text, COLUMNS - hang, false);
            }
            fprintf(out, "%*s%.*s", gap, "", size, text);
            used += gap + size;
            text += size;
        }
        fputs("\n", out);
        text += *text == '\n';
    }
}
