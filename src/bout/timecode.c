/* timecode.c: SMPTE time codes. */
#include "ringtally/bout/timecode.h"

#include <ctype.h>
#include <stdio.h>
#include <string.h>

const struct timecode_rate timecode_rates[TIMECODE_RATES] = {
    {"23.976", 24000, 1001, 24, 0},
    {"24", 24, 1, 24, 0},
    {"25", 25, 1, 25, 0},
    {"29.97ndf", 30000, 1001, 30, 0},
    {"29.97df", 30000, 1001, 30, 2},
    {"30", 30, 1, 30, 0},
    {"50", 50, 1, 50, 0},
    {"59.94ndf", 60000, 1001, 60, 0},
    {"59.94df", 60000, 1001, 60, 4},
    {"60", 60, 1, 60, 0},
    {NULL, 0, 0, 0, 0},
};

static const struct timecode_rate *rate_of(const char *name)
{
    for (const struct timecode_rate *rate = timecode_rates; rate->name; rate++) {
        if (strcmp(rate->name, name) == 0) {
            return rate;
        }
    }
    return NULL;
}

const struct timecode_rate *timecode_rate_find(const char *name, struct error *err)
{
    const struct timecode_rate *rate = rate_of(name);
    if (!rate) {
        error_set(err, ERROR_USAGE,
                  "frame rate %s: one of 23.976, 24, 25, 29.97ndf, 29.97df, 30, 50, 59.94ndf, "
                  "59.94df, 60 is needed",
                  name);
    }
    return rate;
}

static int64_t floor_div(int64_t number, int64_t by)
{
    return number / by - (number % by < 0);
}

static int64_t round_div(int64_t number, int64_t by)
{
    return floor_div(2 * number + by, 2 * by);
}

static int64_t minute_frames(const struct timecode_rate *rate)
{
    return 60 * (int64_t)rate->nominal - rate->dropped;
}

static int64_t ten_minutes(const struct timecode_rate *rate)
{
    return 10 * minute_frames(rate) + rate->dropped; /* the tenth minute drops none */
}

int64_t timecode_day(const struct timecode_rate *rate)
{
    return 144 * ten_minutes(rate);
}

/* Two digits at `at`, or -1. */
static int two_digits(const char *at)
{
    return isdigit((unsigned char)at[0]) && isdigit((unsigned char)at[1])
               ? (at[0] - '0') * 10 + at[1] - '0'
               : -1;
}

/* Why the text is no label of the rate, or NULL. */
static const char *label_fault(int64_t *frame, const struct timecode_rate *rate, const char *text)
{
    int field[4] = {0};
    char mark = rate->dropped ? ';' : ':';
    if (strlen(text) != TIMECODE_SIZE - 1) {
        return "HH:MM:SS:FF is needed";
    }
    for (int i = 0; i < 4; i++) {
        field[i] = two_digits(text + (ptrdiff_t)3 * i);
        if (field[i] < 0 || (i < 2 && text[3 * i + 2] != ':')) {
            return "HH:MM:SS:FF is needed";
        }
    }
    if (text[8] != mark) {
        return rate->dropped ? "drop-frame time code has ';' before the frames"
                             : "non-drop time code has ':' before the frames";
    }
    if (field[0] > 23) {
        return "hours are 00 to 23";
    }
    if (field[1] > 59 || field[2] > 59) {
        return "minutes and seconds are 00 to 59";
    }
    if (field[3] >= rate->nominal) {
        return "there are not so many frames in a second";
    }
    if (field[1] % 10 != 0 && field[2] == 0 && field[3] < rate->dropped) {
        return "drop-frame counting leaves this label out";
    }
    int64_t minutes = 60 * (int64_t)field[0] + field[1];
    *frame = rate->nominal * (60 * minutes + field[2]) + field[3] -
             rate->dropped * (minutes - minutes / 10);
    return NULL;
}

int timecode_parse(int64_t *frame, const struct timecode_rate *rate, const char *text,
                   struct error *err)
{
    const char *fault = label_fault(frame, rate, text);
    return fault ? error_set(err, ERROR_USAGE, "time code %s at %s: %s", text, rate->name, fault)
                 : 0;
}

const char *timecode_print(char out[TIMECODE_SIZE], const struct timecode_rate *rate, int64_t frame)
{
    int64_t day = timecode_day(rate);
    int64_t of_day = frame - floor_div(frame, day) * day;
    /* Put back the labels left out before this frame; then it is plain division. */
    int64_t tens = of_day / ten_minutes(rate);
    int64_t rest = of_day % ten_minutes(rate);
    int64_t minutes = (rest - rate->dropped) / minute_frames(rate);
    int64_t label = of_day + rate->dropped * (9 * tens + minutes);
    int64_t seconds = label / rate->nominal;
    snprintf(out, TIMECODE_SIZE, "%02u:%02u:%02u%c%02u", (unsigned)(seconds / 3600 % 24),
             (unsigned)(seconds / 60 % 60), (unsigned)(seconds % 60), rate->dropped ? ';' : ':',
             (unsigned)(label % rate->nominal) % 100);
    return out;
}

int64_t timecode_frames(const struct timecode_rate *rate, int64_t ms)
{
    return round_div(ms * rate->frames, (int64_t)rate->seconds * 1000);
}

int64_t timecode_ms(const struct timecode_rate *rate, int64_t frames)
{
    return round_div(frames * rate->seconds * 1000, rate->frames);
}

int64_t sync_frame(const struct sync_point *sync, int64_t utc_ms)
{
    return sync->frame + timecode_frames(sync->rate, utc_ms - sync->utc_ms);
}

int sync_convert(struct sync_point *sync, const struct timecode_rate *rate, struct error *err)
{
    const struct timecode_rate *from = sync->rate;
    /* Where both or neither run at 1000/1001, and both or neither drop, the labels' seconds are the
     * same seconds. */
    if (from->seconds != rate->seconds || (from->dropped == 0) != (rate->dropped == 0)) {
        return error_set(err, ERROR_USAGE,
                         "the sync point was read off at %s, whose labels do not keep step with %s",
                         from->name, rate->name);
    }
    sync->frame = round_div(sync->frame * rate->frames, from->frames) % timecode_day(rate);
    sync->rate = rate;
    return 0;
}

const char *sync_print(char out[SYNC_SIZE], const struct sync_point *sync)
{
    char label[TIMECODE_SIZE];
    snprintf(out, SYNC_SIZE, "sync %s@%s", timecode_print(label, sync->rate, sync->frame),
             sync->rate->name);
    return out;
}

bool sync_parse(struct sync_point *out, const char *text)
{
    static const char word[] = "sync ";
    char label[TIMECODE_SIZE] = "";
    size_t at = sizeof word - 1 + TIMECODE_SIZE - 1;
    if (strncmp(text, word, sizeof word - 1) != 0 || strlen(text) <= at || text[at] != '@') {
        return false;
    }
    memcpy(label, text + sizeof word - 1, TIMECODE_SIZE - 1);
    out->rate = rate_of(text + at + 1);
    return out->rate && !label_fault(&out->frame, out->rate, label);
}
