/* practised.c: the words of a practice. */
#include "ringtally/bout/practised.h"

const char *const practice_kind_names[PRACTICE_KINDS] = {"fingers", "eyes"};
const char *const practice_level_names[LEVELS] = {"slow", "bout", "burst"};
