/* entry.c: what an entry is, and what makes one valid. */
#include "ringtally/bout/entry.h"

#include <stdio.h>
#include <string.h>

const char *const entry_kind_names[ENTRY_KIND_COUNT] = {
    "strike", "stance", "position", "clock", "incident", "score",
    "result", "note",   "official", "sign",  "view",     "release"};
const char *const entry_act_names[ACT_COUNT] = {"add", "refine", "amend", "void", "restore"};

/* For each code: the kind that knows it, and its words. */
static const struct {
    enum entry_kind kind;
    const char *words;
} codes[CODE_ALL] = {
    [CODE_NONE] = {ENTRY_KIND_COUNT, ""},
    [CODE_START] = {ENTRY_CLOCK, "clock starts"},
    [CODE_STOP] = {ENTRY_CLOCK, "clock stops"},
    [CODE_NUDGE] = {ENTRY_CLOCK, "clock nudged"},
    [CODE_WARNING] = {ENTRY_INCIDENT, "warning"},
    [CODE_DEDUCTION] = {ENTRY_INCIDENT, "point deducted"},
    [CODE_COUNT] = {ENTRY_INCIDENT, "standing count"},
    [CODE_KNOCKED_DOWN] = {ENTRY_INCIDENT, "knocked down"},
    [CODE_THROW] = {ENTRY_INCIDENT, "throw"},
    [CODE_INJURY] = {ENTRY_INCIDENT, "injury pause"},
    [CODE_ADMONITION] = {ENTRY_INCIDENT, "admonition"},
    [CODE_FOUL] = {ENTRY_INCIDENT, "foul"},
    [CODE_RED] = {ENTRY_OFFICIAL, "official for red"},
    [CODE_BLUE] = {ENTRY_OFFICIAL, "official for blue"},
    [CODE_CLOCK] = {ENTRY_OFFICIAL, "official for the clock"},
    [CODE_SIGN] = {ENTRY_SIGN, "record signed"},
    [CODE_REOPEN] = {ENTRY_SIGN, "record reopened"},
    [CODE_NAMED] = {ENTRY_SCORE, "judge names"},
    [CODE_AWARDED] = {ENTRY_SCORE, "round given"},
    [CODE_WEIGHED] = {ENTRY_SCORE, "weighed"},
    [CODE_ENDED] = {ENTRY_RESULT, "bout ended"},
    [CODE_ANNOUNCED] = {ENTRY_RESULT, "announced"},
    [CODE_HIDDEN] = {ENTRY_VIEW, "view blocked"},
    [CODE_SEEN] = {ENTRY_VIEW, "view free again"},
    [CODE_JUMP] = {ENTRY_CLOCK, "the wall clock jumped"},
    [CODE_NOTED] = {ENTRY_INCIDENT, "note"},
    [CODE_RELEASED] = {ENTRY_RELEASE, "released for the air"},
    [CODE_WITHHELD] = {ENTRY_RELEASE, "withheld from the air"},
};

const char *const entry_code_names[CODE_ALL] = {
    [CODE_NONE] = "",
    [CODE_START] = "start",
    [CODE_STOP] = "stop",
    [CODE_NUDGE] = "nudge",
    [CODE_WARNING] = "warning",
    [CODE_DEDUCTION] = "deduction",
    [CODE_COUNT] = "count",
    [CODE_KNOCKED_DOWN] = "knocked_down",
    [CODE_THROW] = "throw",
    [CODE_INJURY] = "injury",
    [CODE_ADMONITION] = "admonition",
    [CODE_FOUL] = "foul",
    [CODE_RED] = "red",
    [CODE_BLUE] = "blue",
    [CODE_CLOCK] = "clock",
    [CODE_SIGN] = "sign",
    [CODE_REOPEN] = "reopen",
    [CODE_NAMED] = "named",
    [CODE_AWARDED] = "awarded",
    [CODE_WEIGHED] = "weighed",
    [CODE_ENDED] = "ended",
    [CODE_ANNOUNCED] = "announced",
    [CODE_HIDDEN] = "hidden",
    [CODE_SEEN] = "seen",
    [CODE_JUMP] = "jump",
    [CODE_NOTED] = "note",
    [CODE_RELEASED] = "released",
    [CODE_WITHHELD] = "withheld",
};

bool entry_same(struct entry_name a, struct entry_name b)
{
    return a.desk == b.desk && a.seq == b.seq;
}

static bool strike_equal(const struct strike *a, const struct strike *b)
{
    return a->corner == b->corner && a->limb == b->limb && a->target == b->target &&
           a->stance == b->stance && a->position == b->position && a->outcome == b->outcome &&
           a->technique == b->technique;
}

bool entry_equal(const struct entry *a, const struct entry *b)
{
    return entry_same(a->name, b->name) && entry_same(a->subject, b->subject) &&
           entry_same(a->undoes, b->undoes) && a->utc_ms == b->utc_ms && a->at_ms == b->at_ms &&
           a->kind == b->kind && a->act == b->act && a->code == b->code &&
           a->off_clock == b->off_clock && a->review == b->review && a->accepted == b->accepted &&
           a->unsure == b->unsure && a->round == b->round && a->elapsed_ms == b->elapsed_ms &&
           strike_equal(&a->strike, &b->strike) && a->value == b->value &&
           strcmp(a->text, b->text) == 0 && memcmp(a->prior, b->prior, sizeof a->prior) == 0;
}

int entry_compare(const struct entry *a, const struct entry *b, const struct desk_row *desks)
{
    if (a->utc_ms != b->utc_ms) {
        return a->utc_ms < b->utc_ms ? -1 : 1;
    }
    if (a->name.desk != b->name.desk) {
        return strcmp(desks[a->name.desk].uid, desks[b->name.desk].uid);
    }
    return a->name.seq < b->name.seq ? -1 : a->name.seq > b->name.seq;
}

unsigned entry_uses(enum entry_kind kind)
{
    static const uint8_t uses[ENTRY_KIND_COUNT] = {
        [ENTRY_STRIKE] = USES_CORNER | USES_STANCE | USES_STRIKE,
        [ENTRY_STANCE] = USES_CORNER | USES_STANCE,
        [ENTRY_INCIDENT] = USES_CORNER,
        [ENTRY_SCORE] = USES_CORNER,
        [ENTRY_RESULT] = USES_CORNER,
        [ENTRY_NOTE] = USES_CORNER,
        [ENTRY_VIEW] = USES_CORNER,
    };
    return uses[kind];
}

static bool code_fits(const struct entry *entry)
{
    switch (entry->kind) {
    case ENTRY_CLOCK:
    case ENTRY_INCIDENT:
    case ENTRY_OFFICIAL:
    case ENTRY_SIGN:
    case ENTRY_RESULT:
    case ENTRY_VIEW:
    case ENTRY_RELEASE:
        return codes[entry->code].kind == entry->kind;
    case ENTRY_SCORE:
        return entry->code == CODE_NONE || codes[entry->code].kind == entry->kind;
    default:
        return entry->code == CODE_NONE;
    }
}

void entry_value_range(const struct entry *entry, int64_t *low, int64_t *high)
{
    bool points = entry->code == CODE_DEDUCTION;
    bool jump = entry->code == CODE_JUMP;
    *low = points ? 0 : jump ? -MOMENT_MAX : INT32_MIN;
    *high = points ? 99 : jump ? MOMENT_MAX : INT32_MAX;
}

const char *entry_fault(const struct entry *entry, int desks)
{
    int64_t low = 0, high = 0;
    if (entry->kind >= ENTRY_KIND_COUNT || entry->act >= ACT_COUNT || entry->code >= CODE_ALL) {
        return "kind, act or code unknown";
    }
    if (entry->name.desk < 0 || entry->name.desk >= desks || entry->name.seq < 1) {
        return "its name is none";
    }
    if (entry->subject.desk < 0 || entry->subject.desk >= desks || entry->subject.seq < 1) {
        return "its subject is unknown";
    }
    if ((entry->act == ACT_ADD) != entry_same(entry->name, entry->subject)) {
        return "act and subject contradict each other";
    }
    if (entry->undoes.desk >= desks) {
        return "what it undoes is unknown";
    }
    if (entry->utc_ms < 0 || entry->utc_ms > MOMENT_MAX || entry->at_ms < 0 ||
        entry->at_ms > MOMENT_MAX) {
        return "a moment out of range";
    }
    entry_value_range(entry, &low, &high);
    if (entry->value < low || entry->value > high) {
        return "value out of range";
    }
    if (entry->round < 1 || entry->round > ROUND_MAX) {
        return "round out of range";
    }
    if (entry->elapsed_ms < 0 || entry->elapsed_ms > 3600000) {
        return "time on the round clock out of range";
    }
    if (!strike_is_sound(&entry->strike)) {
        return "no such strike";
    }
    if (!code_fits(entry)) {
        return "its code does not belong to its kind";
    }
    if (!memchr(entry->text, '\0', sizeof entry->text)) {
        return "text too long";
    }
    return NULL;
}

const char *entry_take_words(struct entry *entry, const struct entry_words *words, int desks)
{
    const int known[] = {words->kind,   words->act,    words->code,     words->corner, words->limb,
                         words->target, words->stance, words->position, words->outcome};
    for (size_t i = 0; i < sizeof known / sizeof *known; i++) {
        if (known[i] < 0) {
            return "it holds a word that this ringtally does not know";
        }
    }
    entry->kind = (uint8_t)words->kind;
    entry->act = (uint8_t)words->act;
    entry->code = (uint8_t)words->code;
    entry->strike = (struct strike){.corner = (uint8_t)words->corner,
                                    .limb = (uint8_t)words->limb,
                                    .target = (uint8_t)words->target,
                                    .stance = (uint8_t)words->stance,
                                    .position = (uint8_t)words->position,
                                    .outcome = (uint8_t)words->outcome,
                                    .technique = (uint8_t)words->technique};
    return entry_fault(entry, desks);
}

const char *desk_fault(const struct desk_row *desk)
{
    if (strspn(desk->uid, "0123456789abcdef") != 32 || !desk->name[0]) {
        return "a desk is known by 32 hexadecimal digits, and has a name";
    }
    return desk->opened_ms < 0 || desk->opened_ms > MOMENT_MAX ? "it was opened at no moment"
                                                               : NULL;
}

const char *entry_corner(const struct entry *entry)
{
    if (!(entry_uses((enum entry_kind)entry->kind) & USES_CORNER) || entry->kind == ENTRY_NOTE) {
        return "";
    }
    return entry->strike.corner == CORNER_RED ? "red " : "blue ";
}

/* "+12", "-0.7": milliseconds as seconds. */
static const char *shift_words(char out[32], int64_t ms)
{
    uint64_t size = ms < 0 ? -(uint64_t)ms : (uint64_t)ms;
    int used = snprintf(out, 32, "%c%llu", ms < 0 ? '-' : '+', (unsigned long long)(size / 1000));
    if (size % 1000 >= 100) {
        snprintf(out + used, 32 - (size_t)used, ".%d", (int)(size / 100 % 10));
    }
    return out;
}

void entry_words(char *out, unsigned size, const struct entry *entry)
{
    char strike[96], shift[32];
    switch (entry->kind) {
    case ENTRY_STRIKE:
        strike_words(strike, sizeof strike, &entry->strike);
        snprintf(out, size, "%s", strike);
        break;
    case ENTRY_STANCE:
        snprintf(out, size, "now %s", stance_names[entry->strike.stance]);
        break;
    case ENTRY_POSITION:
        snprintf(out, size, "%s",
                 entry->strike.position == POSITION_CLINCH ? "clinch" : "clinch ends");
        break;
    case ENTRY_CLOCK:
        if (entry->code == CODE_NUDGE) {
            snprintf(out, size, "clock nudged %s s", shift_words(shift, entry->value));
        } else if (entry->code == CODE_JUMP) {
            snprintf(out, size, "the machine's clock jumped by %s s",
                     shift_words(shift, entry->value));
        } else {
            snprintf(out, size, "%s", codes[entry->code].words);
        }
        break;
    case ENTRY_INCIDENT:
        if (entry->code == CODE_DEDUCTION && entry->value != 1) {
            snprintf(out, size, "%d points deducted", (int)entry->value);
        } else if ((entry->code == CODE_COUNT || entry->code == CODE_KNOCKED_DOWN) &&
                   entry->value > 0) {
            snprintf(out, size, "%s, own count %d", codes[entry->code].words, (int)entry->value);
        } else if (entry->code == CODE_THROW) { /* who threw whom */
            snprintf(out, size, "threw %s", entry->strike.corner == CORNER_RED ? "blue" : "red");
        } else {
            snprintf(out, size, "%s%s%s", codes[entry->code].words, entry->text[0] ? ": " : "",
                     entry->text);
        }
        break;
    case ENTRY_RESULT:
        /* What a desk entered as implied was not announced (officials.h has the text's form). */
        snprintf(out, size, "%s%s%s",
                 entry->code == CODE_ANNOUNCED && strstr(entry->text, "implied")
                     ? "entered as implied"
                     : codes[entry->code].words,
                 entry->text[0] ? ": " : "", entry->text);
        break;
    case ENTRY_OFFICIAL:
    case ENTRY_SIGN:
    case ENTRY_VIEW:
    case ENTRY_RELEASE:
        snprintf(out, size, "%s%s%s", codes[entry->code].words, entry->text[0] ? ": " : "",
                 entry->text);
        break;
    default:
        snprintf(out, size, "%s", entry->text);
        break;
    }
}
