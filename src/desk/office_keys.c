/* office_keys.c: who is official for what: told when it changes, taken over by a key.
 *
 * A desk that lost its office would tag into the void, and one whose partner died would not know.
 * So every change is told, every strike that does not count is told, and what nobody tags stays on
 * the screen with the key that takes it over.
 */
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "desk/session.h"

#define PROMPT_MS 5000

static const struct {
    enum entry_code code;
    const char *words;
    enum action key; /* in the prompt */
} offices[OFFICES] = {
    {CODE_RED, "red", ACTION_RED_INCIDENT},
    {CODE_BLUE, "blue", ACTION_BLUE_INCIDENT},
    {CODE_CLOCK, "the clock", ACTION_CLOCK},
};

static int holder_of(const struct desk *desk, int office)
{
    return fold_official(desk->fold, offices[office].code);
}

static enum sign_state state_of(const struct desk *desk, int root)
{
    return root >= 0 && root < desk->office.signs && root != desk->root
               ? sign_state(&desk->office.sign[root])
               : SIGN_UNKNOWN;
}

/* Its holder is known to be not there. */
static bool is_untended(const struct desk *desk, int office)
{
    enum sign_state state = state_of(desk, holder_of(desk, office));
    return state == SIGN_LOST || state == SIGN_SILENT || state == SIGN_LEFT;
}

static const char *name_of(const struct desk *desk, int root)
{
    const struct desk_row *rows = NULL;
    int count = fold_desks(desk->fold, &rows);
    return root >= 0 && root < count ? rows[root].name : "nobody";
}

const char *office_holder(const struct desk *desk, enum entry_code what)
{
    return name_of(desk, fold_official(desk->fold, what));
}

/* "red, blue and the clock" */
static const char *roles_text(char out[48], uint8_t roles)
{
    size_t used = 0;
    out[0] = '\0';
    for (int i = 0; i < OFFICES; i++) {
        uint8_t later = (uint8_t)(roles >> (i + 1));
        if (roles >> i & 1) {
            const char *between = used == 0 ? "" : later ? ", " : " and ";
            used += (size_t)snprintf(out + used, 48 - used, "%s%s", between, offices[i].words);
        }
    }
    return out;
}

/* "F5 [" takes red over. */
static const char *taking_keys(char out[40], const struct desk *desk, int office)
{
    char first[16], second[16];
    snprintf(out, 40, "%s %s", key_word(first, desk->keymap.action[ACTION_TAKEOVER]),
             key_word(second, desk->keymap.action[offices[office].key]));
    return out;
}

void office_strike(struct desk *desk, enum corner corner, int64_t now_ms)
{
    char keys[40];
    int office = corner == CORNER_RED ? 0 : 1;
    int holder = holder_of(desk, office);
    if (holder != desk->root && !desk->own) {
        alarm_raise(desk, ALARM_UNCOUNTED, now_ms);
        session_notice(desk, now_ms, true, "NOT COUNTED: %s is official for %s. %s takes it over",
                       name_of(desk, holder), corner_names[corner],
                       taking_keys(keys, desk, office));
    } else if (desk->own && !(desk_self(desk)->corners >> corner & 1)) {
        session_notice(desk, now_ms, true, "%s is not this desk's corner", corner_names[corner]);
    } else if (desk_clock(desk, now_ms).state != CLOCK_RUNNING) {
        alarm_off_clock(desk, now_ms);
    } else {
        alarm_on_clock(desk);
    }
}

/* What nobody is there for, with the keys that take it over. */
static void stand(struct desk *desk)
{
    char *out = desk->office.standing;
    char first[16], second[16], roles[48];
    size_t size = sizeof desk->office.standing, used = 0;
    uint8_t left = 0;
    out[0] = '\0';
    for (int i = 0; i < OFFICES; i++) {
        left |= is_untended(desk, i) ? (uint8_t)(1u << i) : 0;
    }
    desk->office.untended = left;
    for (int i = 0; i < OFFICES && used < size; i++) {
        uint8_t same = 0;
        int holder = holder_of(desk, i);
        for (int j = i; j < OFFICES; j++) {
            same |= (left >> j & 1) && holder_of(desk, j) == holder ? (uint8_t)(1u << j) : 0;
        }
        if (left >> i & 1) {
            static const char *const words[SIGN_STATES] = {
                [SIGN_LOST] = "is LOST", [SIGN_SILENT] = "is SILENT", [SIGN_LEFT] = "LEFT"};
            used += (size_t)snprintf(out + used, size - used, "%s%s %s: nobody tags %s",
                                     used ? "; " : "", name_of(desk, holder),
                                     words[state_of(desk, holder)], roles_text(roles, same));
            left &= (uint8_t)~same;
        }
    }
    if (used == 0 || used >= size || desk_is_read_only(desk)) {
        return;
    }
    key_word(first, desk->keymap.action[ACTION_TAKEOVER]);
    used += (size_t)snprintf(out + used, size - used, ". Take it over: %s, then", first);
    for (int i = 0; i < OFFICES && used < size; i++) {
        if (desk->office.untended >> i & 1) {
            used += (size_t)snprintf(out + used, size - used, " %s %s,",
                                     key_word(second, desk->keymap.action[offices[i].key]),
                                     i == 2 ? "clock" : offices[i].words);
        }
    }
    if (used < size) {
        snprintf(out + used, size - used, " %s all", first);
    }
}

const char *office_standing(const struct desk *desk, int64_t now_ms)
{
    bool over = desk_clock(desk, now_ms).state == CLOCK_OVER || fold_signed(desk->fold);
    return over ? "" : desk->office.standing;
}

int desk_hear_signs(struct desk *desk, const struct desk_sign *signs, int count, int64_t now_ms)
{
    struct offices_seen *office = &desk->office;
    uint8_t before = office->untended;
    if (now_ms < office->blind_until_ms) {
        return 0; /* stamped by the former setting, everybody looks silent */
    }
    if (count > office->signs) {
        struct desk_sign *more = realloc(office->sign, (size_t)count * sizeof *more);
        if (!more) {
            return ERROR_MEMORY;
        }
        office->sign = more;
        office->signs = count;
    }
    if (count > 0) {
        memcpy(office->sign, signs, (size_t)count * sizeof *signs);
    }
    office->heard_ms = now_ms;
    stand(desk);
    if (office->untended & ~before) {
        office->told_ms = 0;
        if (office_standing(desk, now_ms)[0] &&
            desk->question.action == ACTION_NONE) { /* nothing older hides it, but a question */
            desk->notice_until_ms = 0;
        }
    }
    bool on = office_standing(desk, now_ms)[0] && !desk->own;
    if (!on) {
        office->told_ms = 0;
    } else if (alarm_again(&office->told_ms, now_ms)) {
        alarm_raise(desk, ALARM_OFFICE, now_ms);
    }
    for (int i = 0; i < OFFICES; i++) {
        int holder = holder_of(desk, i);
        bool back = (before >> i & 1) && !(office->untended >> i & 1);
        if (back && holder == office->holder[i] && holder != desk->root) {
            session_notice(desk, now_ms, true, "%s is back", name_of(desk, holder));
        }
    }
    return 0;
}

void office_watch(struct desk *desk, int64_t now_ms)
{
    struct offices_seen *office = &desk->office;
    uint8_t lost = 0, changed = 0;
    int to = -1;
    char roles[48], key[16];
    for (int i = 0; i < OFFICES; i++) {
        int holder = holder_of(desk, i);
        if (holder == office->holder[i]) {
            continue;
        }
        changed |= holder != desk->root ? (uint8_t)(1u << i) : 0;
        lost |= office->holder[i] == desk->root ? (uint8_t)(1u << i) : 0;
        to = holder != desk->root ? holder : to;
        office->holder[i] = holder;
    }
    if (lost | changed) {
        stand(desk);
    }
    if (lost) {
        alarm_raise(desk, ALARM_OFFICE, now_ms);
        session_notice(desk, now_ms, true,
                       "%s TOOK OVER %s: your keys for it count no more. %s takes it back",
                       name_of(desk, to), roles_text(roles, lost),
                       key_word(key, desk->keymap.action[ACTION_TAKEOVER]));
    } else if (changed) {
        session_notice(desk, now_ms, true, "%s is official for %s now", name_of(desk, to),
                       roles_text(roles, changed));
    }
}

static void take(struct desk *desk, uint8_t roles, int64_t now_ms)
{
    char words[48];
    live(desk);
    if (!write_claims(desk, roles, now_ms)) {
        return; /* it said so */
    }
    fold_free(desk->own);
    desk->own = NULL;
    office_watch(desk, now_ms);
    stand(desk);
    session_notice(desk, now_ms, true, "this desk is official now: %s",
                   roles_text(words, office_roles(desk)));
}

uint8_t office_roles(const struct desk *desk)
{
    uint8_t roles = 0;
    for (int i = 0; i < OFFICES; i++) {
        roles |= holder_of(desk, i) == desk->root ? (uint8_t)(1u << i) : 0;
    }
    return roles;
}

void office_enter(struct desk *desk, int64_t now_ms)
{
    switch (session_ask(desk, ACTION_TAKEOVER, now_ms)) {
    case ASK_FIRST:
        live(desk);
        desk->mode = DESK_OFFICES;
        desk->mode_until_ms = now_ms + PROMPT_MS;
        break;
    case ASK_YES:
        take(desk, (uint8_t)(desk_self(desk)->corners | 4 | desk->office.untended), now_ms);
        break;
    default:
        break;
    }
}

bool office_key(struct desk *desk, int32_t key, struct meaning meaning, int64_t now_ms)
{
    if (key == KEY_OF_ESC) {
        live(desk);
        return true;
    }
    for (int i = 0; i < OFFICES && desk->mode == DESK_OFFICES; i++) {
        if (meaning.action == offices[i].key) {
            take(desk, (uint8_t)(1u << i), now_ms);
            return true;
        }
    }
    if (meaning.action != ACTION_TAKEOVER) {
        live(desk);
    }
    return false;
}

void office_greet(struct desk *desk, bool resumed, int64_t now_ms)
{
    struct offices_seen *office = &desk->office;
    const struct desk_row *self = desk_self(desk), *rows = NULL;
    const struct entry *entries = NULL;
    char roles[48];
    uint8_t taken = 0, others = 0;
    bool twice = false;
    fold_desks(desk->fold, &rows);
    for (int i = 0; i < OFFICES; i++) {
        int holder = holder_of(desk, i);
        bool other = holder >= 0 && holder != desk->root;
        taken |= office->holder[i] >= 0 && holder != office->holder[i] ? (uint8_t)(1u << i) : 0;
        others |= other ? (uint8_t)(1u << i) : 0;
        twice = twice || (other && strcmp(rows[holder].operator_, self->operator_) == 0);
    }
    bool over = desk_clock(desk, now_ms).state == CLOCK_OVER;
    bool begun = fold_clock(desk->fold)->round > 0 || fold_tally(desk->fold)->last_round > 0;
    if (desk_is_read_only(desk) || self->shadow || over ||
        fold_entries(desk->fold, &entries) == 0) {
        office->relief = RELIEF_NONE;
    } else if (others & self->corners) {
        office->relief = twice ? RELIEF_TWICE : RELIEF_WATCH;
    } else if (taken && begun) {
        office->relief = RELIEF_TAKEN;
    }
    if (office->relief != RELIEF_NONE) {
        desk->mode = DESK_RELIEF;
    } else if (others & 4 && !resumed && !self->shadow && !desk_is_read_only(desk)) {
        session_notice(desk, now_ms, true, "official here: %s. The clock is with %s",
                       roles_text(roles, office_roles(desk)), office_holder(desk, CODE_CLOCK));
    }
    office_seen(desk);
}

void office_seen(struct desk *desk)
{
    for (int i = 0; i < OFFICES; i++) {
        desk->office.holder[i] = holder_of(desk, i);
    }
}

enum desk_relief desk_relief(const struct desk *desk)
{
    return desk->office.relief;
}

void desk_office(const struct desk *desk, enum entry_code what, int64_t now_ms,
                 struct desk_office *out)
{
    const struct desk_row *rows = NULL;
    const struct entry *entries = NULL;
    int root = fold_official(desk->fold, what);
    size_t count = fold_entries(desk->fold, &entries);
    *out = (struct desk_office){.holder = root < 0 ? "" : name_of(desk, root),
                                .own = root == desk->root,
                                .state = state_of(desk, root),
                                .seen_age_ms = -1,
                                .wrote_age_ms = -1};
    fold_desks(desk->fold, &rows);
    if (root >= 0 && root < desk->office.signs && desk->office.sign[root].seen_ms) {
        out->seen_age_ms = desk->office.sign[root].age_ms + (now_ms - desk->office.heard_ms);
    }
    while (count-- > 0 && out->wrote_age_ms < 0) {
        if (root >= 0 && rows[entries[count].name.desk].root == root) {
            int64_t age_ms = now_ms - entries[count].utc_ms;
            out->wrote_age_ms = age_ms > 0 ? age_ms : 0;
        }
    }
}
