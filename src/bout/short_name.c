/* short_name.c: the name that the panel, the tables and the files show where the whole one does not
 * fit. */
#include <string.h>

#include "ringtally/base/text.h"
#include "ringtally/bout/card.h"

#define WORDS_MAX 24

struct word {
    const char *at;
    size_t size;
};

/* What stands in brackets is the same name in other letters, or what else somebody is called: left
 * out, unless there is nothing else. */
static int split(struct word *words, const char *name, bool *bracketed)
{
    int count = 0;
    bool within = false;
    *bracketed = false;
    for (const char *at = name; *at && count < WORDS_MAX;) {
        size_t size = strcspn(at, " ");
        within = within || *at == '(';
        if (size > 0 && !within) {
            words[count++] = (struct word){at, size};
        }
        *bracketed = *bracketed || within;
        within = within && at[size > 0 ? size - 1 : 0] != ')';
        at += size + (at[size] == ' ');
    }
    return count;
}

static bool is_one_of(const struct word *word, const char *const *list)
{
    char text[24];
    char key[24];
    size_t size = word->size;
    while (size > 0 && strchr(".,", word->at[size - 1])) {
        size--;
    }
    if (size == 0 || size >= sizeof text) {
        return false;
    }
    memcpy(text, word->at, size);
    text[size] = '\0';
    if (!text_key(key, sizeof key, text)) {
        return false;
    }
    for (; *list; list++) {
        if (strcmp(*list, key) == 0) {
            return true;
        }
    }
    return false;
}

/* How many words at the end say which of that name it is, and are no name: "Jr.", "III", "the
 * Third". Never all of them. */
static int suffix_words(const struct word *words, int count)
{
    static const char *const suffixes[] = {"jr",  "sr",  "junior", "senior", "ii",   "iii", "iv",
                                           "2nd", "3rd", "4th",    "filho",  "neto", NULL};
    static const char *const ordinals[] = {"second", "third", "fourth", "2nd", "3rd",
                                           "4th",    "ii",    "iii",    "iv",  NULL};
    static const char *const articles[] = {"the", NULL};
    if (count > 2 && is_one_of(&words[count - 2], articles) &&
        is_one_of(&words[count - 1], ordinals)) {
        return 2;
    }
    return count > 1 && is_one_of(&words[count - 1], suffixes);
}

/* Thai boxers go by the first word of a ring name, the others are the camp's: common practice. */
static bool is_thai(const struct word *word)
{
    const char *at = word->at;
    int32_t points[1] = {0};
    int count = 0;
    return text_grapheme(&at, points, 1, &count) >= 0 && points[0] >= 0xe00 && points[0] < 0xe80;
}

/* The words from `first` to before `end`, with a blank between them. */
static void join(char *out, size_t size, const struct word *words, int first, int end)
{
    size_t used = 0;
    out[0] = '\0';
    for (int i = first; i < end && used + words[i].size + 2 <= size; i++) {
        if (used > 0) {
            out[used++] = ' ';
        }
        memcpy(out + used, words[i].at, words[i].size);
        used += words[i].size;
        out[used] = '\0';
    }
    if (used > 0 && out[used - 1] == ',') {
        out[used - 1] = '\0';
    }
}

/* Into out[size] where it fits into the columns. */
static bool fits(char *out, size_t size, const char *text)
{
    bool good = text[0] && text_width(text) <= SHORT_COLUMNS && strlen(text) < size;
    if (good) {
        memcpy(out, text, strlen(text) + 1);
    }
    return good;
}

bool fighter_is_other(const char *before, const char *name)
{
    char one[512];
    char other[512];
    return strcmp(before, name) != 0 &&
           (!text_key(one, sizeof one, before) || !text_key(other, sizeof other, name) ||
            strcmp(one, other) != 0);
}

void short_name(char *out, size_t size, const char *name)
{
    struct word words[WORDS_MAX];
    char last[256];
    char whole[256];
    char fitted[256];
    if (fits(out, size, name)) {
        return;
    }
    bool bracketed = false;
    int count = split(words, name, &bracketed);
    if (count == 0) {
        text_fit(fitted, sizeof fitted < size ? sizeof fitted : size, name, SHORT_COLUMNS, false);
        if (!text_clean(out, size, fitted)) {
            out[0] = '\0';
        }
        return;
    }
    if (bracketed) {
        join(whole, sizeof whole, words, 0, count);
        if (fits(out, size, whole)) {
            return;
        }
    }
    int end = count - suffix_words(words, count);
    int at = is_thai(&words[0]) ? 0 : end - 1;
    join(last, sizeof last, words, at, at + 1);
    if (at == end - 1) { /* with its suffix, if that fits */
        join(whole, sizeof whole, words, at, count);
        if (fits(out, size, whole)) {
            return;
        }
    }
    text_fit(fitted, sizeof fitted < size ? sizeof fitted : size, last, SHORT_COLUMNS, false);
    if (!text_clean(out, size, fitted)) { /* drops the padding */
        out[0] = '\0';
    }
}
