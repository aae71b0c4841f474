/* keys.c: keys by their names in a key script, as terminfo says that they are sent. */
#include "keys.h"

#include <stdio.h>
#include <string.h>
#include <unistd.h>

#include <curses.h>
#include <term.h>

static const struct {
    const char *name, *capability, *plain;
} keys[] = {
    {"Space", NULL, " "},    {"Enter", NULL, "\r"},   {"Tab", NULL, "\t"},
    {"Esc", NULL, "\033"},   {"Left", "kcub1", ""},   {"Right", "kcuf1", ""},
    {"Up", "kcuu1", ""},     {"Down", "kcud1", ""},   {"Backspace", "kbs", "\177"},
    {"Delete", "kdch1", ""}, {"Insert", "kich1", ""}, {"F1", "kf1", ""},
    {"F2", "kf2", ""},       {"F3", "kf3", ""},       {"F4", "kf4", ""},
    {"F5", "kf5", ""},       {"F6", "kf6", ""},       {"F7", "kf7", ""},
    {"F8", "kf8", ""},       {"F9", "kf9", ""},       {"F10", "kf10", ""},
    {"F11", "kf11", ""},     {"F12", "kf12", ""},
};

int keys_sent(char *out, size_t size, const char *term, const char *key)
{
    const char *sent = NULL;

    if (key[0] != '\0' && (key[1] == '\0' || (key[0] & 0x80) != 0)) {
        sent = key;
    }
    for (size_t i = 0; sent == NULL && i < sizeof keys / sizeof *keys; i++) {
        if (strcmp(keys[i].name, key) != 0) {
            continue;
        }
        sent = keys[i].plain;
        if (keys[i].capability != NULL) {
            int status = 0;
            if (setupterm(term, STDERR_FILENO, &status) == OK) {
                const char *value = tigetstr(keys[i].capability);
                if (value != NULL && value != (char *)-1) {
                    sent = value;
                }
            }
        }
    }
    int ok = sent != NULL && sent[0] != '\0' && strlen(sent) < size;
    if (ok) {
        memcpy(out, sent, strlen(sent) + 1);
    }
    if (cur_term != NULL) {
        del_curterm(cur_term);
    }
    return ok;
}
