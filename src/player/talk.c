/* talk.c: reads a line of the player's. */
#include "player/talk.h"

#include <jansson.h>
#include <math.h>
#include <stdio.h>
#include <string.h>

#include "ringtally/base/text.h"

#define NUMBER_MOST 1e9

const char *const talk_names[TALK_PROPERTIES] = {
    [TALK_TIME] = "time-pos",     [TALK_FRAME] = "estimated-frame-number",
    [TALK_FPS] = "container-fps", [TALK_PAUSE] = "pause",
    [TALK_SPEED] = "speed",       [TALK_END] = "eof-reached",
    [TALK_DURATION] = "duration", [TALK_PICTURE] = "video-format",
    [TALK_PATH] = "path",         [TALK_SEEKING] = "seeking",
};

static void read_value(struct talk *out, const json_t *value)
{
    if (json_is_boolean(value)) {
        out->has = true;
        out->number = json_is_true(value);
    } else if (json_is_number(value)) {
        out->number = json_number_value(value);
        out->has = isfinite(out->number) && fabs(out->number) <= NUMBER_MOST;
        out->number = out->has ? out->number : 0;
    } else if (json_is_string(value)) {
        snprintf(out->text, sizeof out->text, "%s", json_string_value(value));
        text_defuse(out->text);
    }
}

static void read_event(struct talk *out, const json_t *root, const char *event)
{
    const char *reason = json_string_value(json_object_get(root, "reason"));
    if (strcmp(event, "property-change") == 0) {
        out->kind = TALK_CHANGE;
        out->id = json_integer_value(json_object_get(root, "id"));
        read_value(out, json_object_get(root, "data"));
    } else if (strcmp(event, "end-file") == 0 && reason && strcmp(reason, "error") == 0) {
        out->kind = TALK_FAILED;
        read_value(out, json_object_get(root, "file_error"));
    }
}

void talk_read(struct talk *out, const char *line, size_t size)
{
    json_t *root = json_loadb(line, size, 0, NULL);
    const char *event = json_string_value(json_object_get(root, "event"));
    const json_t *id = json_object_get(root, "request_id");
    *out = (struct talk){.kind = TALK_NONSENSE};
    if (event) {
        read_event(out, root, event);
    } else if (json_is_integer(id)) {
        const char *error = json_string_value(json_object_get(root, "error"));
        out->kind = TALK_ANSWER;
        out->id = json_integer_value(id);
        if (error && strcmp(error, "success") == 0) {
            read_value(out, json_object_get(root, "data"));
        }
    }
    json_decref(root);
}
