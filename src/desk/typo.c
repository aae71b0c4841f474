/* typo.c: the wrong case or layout, noticed within a few keys and turned round by one.
 *
 * A terminal does not tell of Caps Lock or of the layout. What tells are the keys: landed strikes
 * by letters without end, or characters that mean nothing here.
 */
#include <math.h>
#include <string.h>

#include "desk/session.h"
#include "ringtally/base/text.h"

#define LEAST    3    /* keys in a row before anything is said */
#define UNLIKELY 0.02 /* how rarely so many landed in a row may come by themselves */
#define KNOWN    10   /* strikes from which on the operator's own share of landed ones is gone by */

/* What other layouts have on the places of the pad: qwertyuiop asdfghjkl; zxcvbnm,./ */
#define PLACES 30
static const char *const others[] = {
    "йцукенгшщзфывапролджячсмитьбю.", /* Russian */
    "йцукенгшщзфівапролджячсмитьбю.", /* Ukrainian */
    ";ςερτυθιοπασδφγηξκλ΄ζχψωβνμ,./", /* Greek */
    "/'קראטוןםפשדגכעיחלךזסבהנמצתץ.",  /* Hebrew */
};

struct place {
    uint8_t corner, limb, target;
};

static bool place_of(struct place *out, int at)
{
    static const uint8_t red[] = {LIMB_LEFT_LEG, LIMB_LEFT_HAND, LIMB_RIGHT_HAND, LIMB_RIGHT_LEG,
                                  LIMB_KNEE};
    int row = at / 10, column = at % 10;
    bool blue = column >= 5;
    *out = (struct place){.corner = blue ? CORNER_BLUE : CORNER_RED, .target = (uint8_t)row};
    if (row < 2) {
        out->limb = blue ? (column == 5 ? LIMB_KNEE : red[column - 6]) : red[column];
        return true;
    }
    /* z x c v b n m , . / */
    static const uint8_t low[] = {
        LIMB_LEFT_LEG, LIMB_LEFT_ELBOW, LIMB_RIGHT_ELBOW, LIMB_RIGHT_LEG,   LIMB_KNEE,
        LIMB_KNEE,     LIMB_LEFT_LEG,   LIMB_LEFT_ELBOW,  LIMB_RIGHT_ELBOW, LIMB_RIGHT_LEG};
    out->limb = low[column];
    if (out->limb == LIMB_LEFT_ELBOW || out->limb == LIMB_RIGHT_ELBOW) {
        out->target = TARGET_HEAD;
    }
    return true;
}

/* Which place of the pad a character of a foreign layout stands on; *upper: typed with Shift. */
static bool find_place(struct place *out, bool *upper, int32_t key)
{
    for (size_t layout = 0; layout < sizeof others / sizeof others[0]; layout++) {
        const char *at = others[layout];
        for (int place = 0; *at && place < PLACES; place++) {
            int32_t point = 0;
            int count = 0;
            if (text_grapheme(&at, &point, 1, &count) < 0) {
                break;
            }
            *upper = key != point && text_lower(key) == point;
            if (point >= 0x80 && (key == point || *upper)) {
                return place_of(out, place);
            }
        }
    }
    return false;
}

static void run_add(struct typo *typo, struct entry_name name)
{
    if (typo->shifted == TYPOS) {
        memmove(typo->run, typo->run + 1, (TYPOS - 1) * sizeof *typo->run);
        typo->shifted--;
    }
    typo->run[typo->shifted++] = name;
}

/* From how many landed letters in a row on it is worth a word. */
static int telling(const struct typo *typo)
{
    if (typo->strikes < KNOWN) {
        return LEAST;
    }
    double share = (typo->landed + 1.0) / (typo->strikes + 2.0);
    int needed = (int)ceil(log(UNLIKELY) / log(share));
    return needed < LEAST ? LEAST : needed > TYPOS ? TYPOS : needed;
}

void typo_strike(struct desk *desk, struct strike strike, int32_t key, int64_t now_ms)
{
    struct typo *typo = &desk->typo;
    char word[16];
    typo->free_keys = 0;
    bool landed = strike.outcome == OUTCOME_LANDED;
    if (!landed || text_lower(key) == key) {
        typo->strikes += typo->shifted + 1;
        typo->landed += typo->shifted + landed;
        typo->shifted = 0;
        typo->told = false;
        return;
    }
    run_add(typo, (struct entry_name){desk->self, desk->next_seq - 1});
    if (!typo->told && typo->shifted >= telling(typo)) {
        typo->told = true;
        alarm_raise(desk, ALARM_KEYBOARD, now_ms);
        session_notice(desk, now_ms, true,
                       "CAPS LOCK? Every key lands: %s makes this run attempted",
                       key_word(word, desk->keymap.action[ACTION_TURN]));
    }
}

void typo_free(struct desk *desk, int32_t key, int64_t now_ms)
{
    struct typo *typo = &desk->typo;
    char word[16];
    if (key <= ' ' || key >= KEY_OF_ENTER) {
        return; /* no character */
    }
    if (typo->free_keys == TYPOS) {
        memmove(typo->key, typo->key + 1, (TYPOS - 1) * sizeof *typo->key);
        memmove(typo->at_ms, typo->at_ms + 1, (TYPOS - 1) * sizeof *typo->at_ms);
        typo->free_keys--;
    }
    typo->key[typo->free_keys] = key;
    typo->at_ms[typo->free_keys++] = now_ms;
    if (typo->free_keys >= LEAST) {
        alarm_raise(desk, ALARM_KEYBOARD, now_ms);
        session_notice(desk, now_ms, true,
                       "WRONG KEYBOARD LAYOUT? %d keys meant nothing: switch it, then %s logs them",
                       typo->free_keys, key_word(word, desk->keymap.action[ACTION_TURN]));
    }
}

/* The landed run becomes attempted. */
static void turn_case(struct desk *desk, int64_t now_ms)
{
    struct typo *typo = &desk->typo;
    int turned = 0;
    for (int i = 0; i < typo->shifted; i++) {
        const struct subject *subject = fold_subject(session_fold(desk), typo->run[i]);
        if (!subject || !subject->live || subject->now.strike.outcome != OUTCOME_LANDED) {
            continue;
        }
        struct entry now = subject->now;
        strike_mark_landed(&now.strike);
        now.undoes = ENTRY_NONE;
        turned += write_change(desk, now.name, now, ACT_AMEND, now_ms);
    }
    typo->shifted = 0;
    typo->told = false;
    session_notice(desk, now_ms, true, "%d strikes are attempted now; is Caps Lock off?", turned);
}

/* What meant nothing is logged by its place, at its moment. */
static void turn_layout(struct desk *desk, int64_t now_ms)
{
    struct typo *typo = &desk->typo;
    int logged = 0, known = typo->free_keys;
    for (int i = 0; i < known; i++) {
        struct place place;
        bool upper = false;
        if (!find_place(&place, &upper, typo->key[i]) ||
            !rules_allow(&desk->rules, place.limb, place.target)) {
            continue;
        }
        struct entry entry = write_blank(desk, ENTRY_STRIKE, typo->at_ms[i]);
        entry.at_ms = typo->at_ms[i];
        entry.strike.corner = place.corner;
        entry.strike.limb = place.limb;
        entry.strike.target = place.target;
        entry.strike.outcome = upper ? OUTCOME_LANDED : OUTCOME_ATTEMPTED;
        entry.strike.stance = (uint8_t)fold_stance(session_fold(desk), place.corner);
        logged += write_entry(desk, entry, now_ms);
    }
    typo->free_keys = 0;
    session_notice(desk, now_ms, logged < known, "%d of %d keys logged by their place", logged,
                   known);
}

void typo_turn(struct desk *desk, int64_t now_ms)
{
    if (desk->typo.free_keys > 0) {
        turn_layout(desk, now_ms);
    } else if (desk->typo.shifted > 0) {
        turn_case(desk, now_ms);
    } else {
        session_notice(desk, now_ms, false, "nothing to turn round");
    }
}
