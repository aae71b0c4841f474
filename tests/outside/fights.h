/* fights.h: bouts in a real database for checks by SQL: random ones with habits, so that there is
 * something to find, and the example scripts played through a desk. */
#ifndef OUTSIDE_FIGHTS_H
#define OUTSIDE_FIGHTS_H

#include "support.h"

#include "ringtally/insight/remarks.h"
#include "ringtally/desk/desk.h"
#include "ringtally/base/embedded.h"
#include "ringtally/desk/keyscript.h"

#define FIGHT_BOUT  "night-1/1"
#define FIGHT_START INT64_C(1700000000000)

struct fight {
    struct place *place;
    struct log *log;
    struct bout bout;
    struct fold *fold;
    sqlite3 *db;
};

static const struct clock_plan fight_plan = {.rounds = 3, .round_ms = 180000, .rest_ms = 60000};

static inline void fight_sql(struct fight *fight, const char *text)
{
    char *message = NULL;
    if (sqlite3_exec(fight->db, text, NULL, NULL, &message) != SQLITE_OK) {
        fail_msg("%s: %s", message, text);
    }
}

/* Writes the entries, reads them back, and lays out the table `s` for the checks: what counts, in
 * order, n from 1. */
static inline void fight_open(struct fight *out, int desks, const struct entry *entries,
                              size_t count)
{
    struct error err = {0};
    struct desk_row *rows = NULL;
    int row_count = 0;
    void *place = NULL;
    memset(out, 0, sizeof *out);
    assert_int_equal(place_set_up(&place), 0);
    out->place = place;
    out->log = log_with_card(out->place);
    out->bout = find_bout(out->log, FIGHT_BOUT);
    for (int i = 0; i < desks; i++) {
        new_desk(out->log, out->bout.id, 0);
    }
    assert_ok(log_desks(out->log, out->bout.id, &rows, &row_count, &err), err);
    assert_ok(log_append(out->log, rows, entries, count, &err), err);
    assert_ok(log_fold(out->log, &out->bout, &fight_plan, FOLD_OFFICIAL, &out->fold, &err), err);
    free(rows);
    assert_int_equal(sqlite3_open(out->place->db, &out->db), SQLITE_OK);
    fight_sql(out, "CREATE TEMP TABLE s AS "
                   "SELECT row_number() OVER (ORDER BY round, at_ms, desk, seq) AS n, round, "
                   "at_ms, elapsed_ms, corner, limb, target, limb || ' ' || target AS code, "
                   "CASE WHEN limb LIKE '%hand' THEN 'hands' WHEN limb LIKE '%knee' THEN 'knees' "
                   "WHEN limb LIKE '%elbow' THEN 'elbows' ELSE 'legs' END AS grp, stance, "
                   "outcome = 'landed' AS hit, spinning, jumping, knockdown "
                   "FROM strike WHERE bout = '" FIGHT_BOUT "' AND official");
}

static inline void fight_close(struct fight *fight)
{
    sqlite3_close(fight->db);
    fold_free(fight->fold);
    log_close(fight->log);
    void *place = fight->place;
    assert_int_equal(place_tear_down(&place), 0);
}

/* The numbers of the first row (`out` may be NULL); returns how many columns, or 0 without a row.
 */
static inline int fight_row(struct fight *fight, const char *text, int64_t *out, int max)
{
    sqlite3_stmt *row = NULL;
    if (sqlite3_prepare_v2(fight->db, text, -1, &row, NULL) != SQLITE_OK) {
        fail_msg("%s: %s", sqlite3_errmsg(fight->db), text);
    }
    int columns = 0;
    if (sqlite3_step(row) == SQLITE_ROW) {
        columns = sqlite3_column_count(row);
        for (int i = 0; i < columns && i < max; i++) {
            out[i] = sqlite3_column_int64(row, i);
        }
    }
    sqlite3_finalize(row);
    return columns;
}

static inline int64_t fight_number(struct fight *fight, const char *text)
{
    int64_t number = 0;
    if (fight_row(fight, text, &number, 1) == 0) {
        fail_msg("no row: %s", text);
    }
    return number;
}

/* How a corner fights: which strikes, from which stance, how often they land. */
struct habits {
    uint32_t weight[STRIKE_CODES];
    uint32_t chance[ROUND_MAX][STRIKE_CODES]; /* of 100, by round */
    uint32_t busy[ROUND_MAX];                 /* weight against the other corner */
    uint32_t switches;                        /* of 1000, at each strike */
    int lead_in, finish;                      /* after the one the other lands */
};

static inline struct habits random_habits(uint64_t *seed)
{
    struct habits habits = {.switches = roll(seed, 3) ? 25 : 0};
    uint32_t skill = 15 + roll(seed, 50);
    for (int code = 0; code < STRIKE_CODES; code++) {
        habits.weight[code] = roll(seed, 4) == 0 ? 1 + roll(seed, 12) : roll(seed, 2);
        uint32_t own = roll(seed, 4) == 0 ? 15 + roll(seed, 85) : skill;
        for (int round = 0; round < ROUND_MAX; round++) {
            habits.chance[round][code] = roll(seed, 3) ? own : own / 2 + roll(seed, 50);
        }
    }
    for (int round = 0; round < ROUND_MAX; round++) {
        habits.busy[round] = 3 + roll(seed, 8);
    }
    habits.lead_in = (int)roll(seed, STRIKE_CODES);
    habits.finish = (int)roll(seed, STRIKE_CODES);
    habits.weight[habits.lead_in] += 10;
    habits.weight[habits.finish] += 12;
    return habits;
}

static inline int pick_code(const struct habits *habits, uint64_t *seed)
{
    uint32_t sum = 0;
    for (int code = 0; code < STRIKE_CODES; code++) {
        sum += habits->weight[code];
    }
    uint32_t at = roll(seed, sum);
    int code = 0;
    while (at >= habits->weight[code]) {
        at -= habits->weight[code++];
    }
    return code;
}

#define FIGHT_DESKS   3
#define FIGHT_ENTRIES 1500

/* A bout by habit, tagged at two desks (a third only watches), with handovers, corrections, strikes
 * put in later, and equal moments. Returns the number of entries. */
static inline size_t fight_random(struct entry *out, uint64_t *seed)
{
    struct habits habits[CORNER_COUNT] = {random_habits(seed), random_habits(seed)};
    int64_t next[FIGHT_DESKS] = {1, 1, 1};
    int official[CORNER_COUNT] = {0, 1};
    int last[CORNER_COUNT] = {-1, -1};
    int64_t last_ms[CORNER_COUNT] = {0, 0};
    enum stance stance[CORNER_COUNT] = {STANCE_ORTHODOX, STANCE_SOUTHPAW};
    size_t count = 0;
    for (int code = 0; code < 3; code++) {
        int desk = code == 1 ? 1 : 0;
        out[count] = entry_of(desk, next[desk]++, FIGHT_START, ENTRY_OFFICIAL);
        out[count++].code = (uint8_t)(CODE_RED + code);
    }
    for (int round = 1; round <= 3; round++) {
        int64_t start = FIGHT_START + 240000 * (round - 1) + 1000;
        struct entry clock = entry_of(0, next[0]++, start, ENTRY_CLOCK);
        clock.code = CODE_START;
        clock.round = (uint8_t)round;
        out[count++] = clock;
        for (int64_t at = start; at < start + 179000 && count + 4 < FIGHT_ENTRIES;) {
            at += roll(seed, 3) ? 200 + roll(seed, 500) : 900 + roll(seed, 2500);
            at -= at % 100; /* equal moments, and gaps that meet the windows exactly */
            uint32_t red = habits[0].busy[round], both = red + habits[1].busy[round];
            int corner = roll(seed, both) < red ? CORNER_RED : CORNER_BLUE;
            const struct habits *own = &habits[corner];
            int code = pick_code(own, seed);
            uint32_t chance = own->chance[round][code];
            if (code == own->finish) {
                bool led = last[corner] == own->lead_in && at - last_ms[corner] <= 2000;
                chance = led ? 90 : 20;
            }
            if (roll(seed, 1000) < own->switches) {
                stance[corner] = stance_switched(stance[corner]);
            }
            int desk = roll(seed, 12) == 0 ? 2 : official[corner];
            struct entry entry = entry_of(desk, next[desk]++, at, ENTRY_STRIKE);
            bool hit = roll(seed, 100) < chance;
            entry.round = (uint8_t)round;
            entry.elapsed_ms = (int32_t)(at - start);
            entry.off_clock = roll(seed, 60) == 0;
            entry.strike = (struct strike){
                .corner = (uint8_t)corner,
                .limb = (uint8_t)(code / TARGET_COUNT),
                .target = (uint8_t)(code % TARGET_COUNT),
                .stance = (uint8_t)(roll(seed, 200) ? stance[corner] : STANCE_SQUARE),
                .outcome = hit             ? OUTCOME_LANDED
                           : roll(seed, 8) ? OUTCOME_ATTEMPTED
                                           : OUTCOME_BLOCKED,
                .technique = (uint8_t)(roll(seed, 30) ? 0 : 1 + roll(seed, 2)),
            };
            if (corner == CORNER_BLUE && entry.strike.limb == LIMB_LEFT_LEG) { /* a habit */
                entry.strike.stance = STANCE_SOUTHPAW;
            }
            if (hit && roll(seed, 120) == 0) {
                entry.strike.technique |= TECHNIQUE_KNOCKDOWN;
            }
            if (roll(seed, 25) == 0) { /* put in later */
                entry.at_ms = at - 100 * roll(seed, 40);
            }
            out[count++] = entry;
            last[corner] = code;
            last_ms[corner] = at;
            uint32_t what = roll(seed, 40);
            if (what < 3) { /* taken back, or put right */
                struct entry change = entry;
                change.name.seq = next[desk]++;
                change.utc_ms += 50;
                change.act = what == 0 ? ACT_VOID : ACT_REFINE;
                change.strike.outcome = what == 1 ? OUTCOME_LANDED : change.strike.outcome;
                out[count++] = change;
            } else if (what == 3 && roll(seed, 4) == 0) { /* handover */
                official[corner] = 1 - official[corner];
                desk = official[corner];
                struct entry office = entry_of(desk, next[desk]++, at + 60, ENTRY_OFFICIAL);
                office.code = (uint8_t)(CODE_RED + corner);
                out[count++] = office;
            } else if (what == 4 && roll(seed, 4) == 0) { /* nobody saw with what */
                struct entry down = entry_of(desk, next[desk]++, at + 70, ENTRY_INCIDENT);
                down.code = CODE_KNOCKED_DOWN;
                down.round = (uint8_t)round;
                down.elapsed_ms = (int32_t)(at + 70 - start);
                down.strike.corner = (uint8_t)corner;
                out[count++] = down;
            }
        }
    }
    return count;
}

/* An example script played through a desk. Returns the number of entries (malloc'd in *out). */
static inline size_t fight_script(struct entry **out, const char *name)
{
    static struct desk_row row = {.uid = "aaaa", .name = "ana", .operator_ = "ana", .corners = 3};
    char path[1024];
    char *text = NULL;
    size_t size = 0, key_count = 0;
    struct script_key *keys = NULL;
    struct error err = {0};
    char red[16], blue[16];
    struct desk_setup setup = {.desks = &row, .desk_count = 1, .claim = 7};
    const struct embedded *rules = embedded_find("rules/kickboxing.ini");
    const struct embedded *map = embedded_find("keymaps/us-qwerty.ini");
    snprintf(path, sizeof path, "%s/examples/%s", SOURCE_DIR, name);
    assert_ok(file_read(&text, &size, path, &err), err);
    assert_ok(keyscript_parse(&keys, &key_count, text, size, name, &err), err);
    assert_ok(rules_parse(&setup.rules, rules->data, rules->size, "rules", &err), err);
    assert_ok(keymap_parse(&setup.keymap, map->data, map->size, "keys", &err), err);
    const char *stances = strstr(text, "# stances ");
    assert_non_null(stances);
    assert_int_equal(sscanf(stances, "# stances %15s %15s", red, blue), 2);
    setup.bout.fighter[CORNER_RED].stance = (uint8_t)name_index(stance_names, STANCE_COUNT, red);
    setup.bout.fighter[CORNER_BLUE].stance = (uint8_t)name_index(stance_names, STANCE_COUNT, blue);
    struct desk *desk = desk_new(&setup, FIGHT_START);
    assert_non_null(desk);
    for (size_t i = 0; i < key_count; i++) {
        desk_key(desk, keys[i].key, FIGHT_START + keys[i].at_ms, 0);
    }
    const struct entry *entries = NULL;
    size_t count = fold_entries(desk_fold(desk), &entries);
    *out = malloc(count * sizeof **out);
    assert_non_null(*out);
    memcpy(*out, entries, count * sizeof **out);
    desk_free(desk);
    free(keys);
    free(text);
    return count;
}

#endif
