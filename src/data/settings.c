/* settings.c: how the user wants a desk to be, out of a file of their own. */
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include "ringtally/base/file.h"
#include "ringtally/base/ini.h"
#include "ringtally/data/data.h"

static int visit(void *user, const char *section, const char *key, const char *value,
                 const struct ini_place *place, struct error *err)
{
    struct desk_settings *out = user;
    bool *which = strcmp(section, "alarm") != 0 ? NULL
                  : strcmp(key, "bell") == 0    ? &out->bell
                  : strcmp(key, "flash") == 0   ? &out->flash
                                                : NULL;
    if (!which) {
        return ini_fail(place, err, "[%s] %s is no setting: [alarm] bell and flash are", section,
                        key);
    }
    if (strcmp(value, "yes") != 0 && strcmp(value, "no") != 0) {
        return ini_fail(place, err, "%s = %s: yes or no is needed", key, value);
    }
    *which = strcmp(value, "yes") == 0;
    return 0;
}

int data_settings(struct desk_settings *out, struct error *err)
{
    char file[4096];
    char *text = NULL;
    size_t size = 0;
    *out = (struct desk_settings){.bell = true, .flash = true};
    data_own_path(file, sizeof file, "desk.ini");
    if (!file[0] || access(file, F_OK) != 0) {
        return 0;
    }
    int code = file_read(&text, &size, file, err);
    code = code ? code : ini_read(text, size, file, visit, out, err);
    free(text);
    return code;
}
