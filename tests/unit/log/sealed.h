/* sealed.h: a database with a signed bout, and whether it is whole. */
#ifndef LOG_SEALED_H
#define LOG_SEALED_H

#include "support.h"

#include "ringtally/log/verify.h"
#include "ringtally/tally/fold.h"

enum { COUNT = 24 };

static const struct clock_plan sealed_plan = {.rounds = 3, .round_ms = 180000, .rest_ms = 60000};

/* A database with a signed bout. */
struct sealed {
    struct place *place;
    struct bout bout;
    struct desk_row *desks;
    int desk_count;
};

static inline struct keypair test_keys(void)
{
    static const unsigned char seed[KEY_BYTES] = {7};
    struct keypair keys;
    keypair_of_seed(&keys, seed);
    return keys;
}

static inline void sign(struct log *log, const struct bout *bout, int64_t value, int64_t utc_ms,
                        const struct keypair *keys)
{
    struct error err = {0};
    struct desk_row *desks = NULL;
    int count = 0;
    struct desk_row visor = new_desk(log, bout->id, 0);
    assert_ok(log_desks(log, bout->id, &desks, &count, &err), err);
    struct entry entry = entry_of(count - 1, 1, utc_ms, ENTRY_SIGN);
    assert_int_equal(desks[count - 1].id, visor.id);
    entry.code = CODE_SIGN;
    entry.value = value;
    strcpy(entry.text, "Ute Visor");
    struct log_sign how = {bout->id, keys};
    assert_ok(log_append_surely(log, desks, count, &entry, 1, &how, &err), err);
    free(desks);
}

static inline struct sealed make_sealed(struct place *place, const struct keypair *keys)
{
    static struct entry entries[COUNT];
    struct sealed out = {.place = place};
    struct error err = {0};
    uint64_t seed = 5;
    int64_t ids[RANDOM_DESKS];
    struct log *log = log_with_card(place);
    out.bout = find_bout(log, "night-1/1");
    for (int i = 0; i < RANDOM_DESKS; i++) {
        ids[i] = new_desk(log, out.bout.id, i == 3 ? ids[1] : i == 4 ? ids[3] : 0).id;
    }
    assert_ok(log_desks(log, out.bout.id, &out.desks, &out.desk_count, &err), err);
    random_log(entries, COUNT, &seed);
    strcpy(entries[7].text, "späte Note");
    assert_ok(log_append(log, out.desks, entries, COUNT, &err), err);
    sign(log, &out.bout, COUNT, entries[COUNT - 1].utc_ms + 1000, keys);
    free(out.desks);
    assert_ok(log_desks(log, out.bout.id, &out.desks, &out.desk_count, &err), err);
    log_close(log);
    return out;
}

/* What `ringtally verify` says of the bout: false, and why. A record that cannot be read is not
 * whole. */
static inline bool is_whole(struct log *log, const char *ref, char *why, size_t size,
                            struct verified *found)
{
    struct buf faults = BUF_INIT;
    struct error err = {0};
    struct fold *fold = NULL;
    struct bout bout;
    int code = log_bout_find(log, ref, &bout, &err);
    code = code ? code : log_fold(log, &bout, &sealed_plan, FOLD_OFFICIAL, &fold, &err);
    code = code ? code : verify_bout(log, &bout, fold, found, &faults, &err);
    if (!code && faults.size == 0) { /* it costs the most */
        code = verify_file(log, &faults, &err);
    }
    assert_false(faults.failed);
    bool whole = !code && faults.size == 0 && found->entries > 0;
    snprintf(why, size, "%s | %s", faults.size ? faults.text : "", err.text);
    fold_free(fold);
    buf_release(&faults);
    return whole;
}

static inline bool place_is_whole(const struct place *place, char *why, size_t size,
                                  struct verified *found)
{
    struct log *log = NULL;
    struct error err = {0};
    if (log_open(&log, place->db, LOG_READ, NULL, &err)) {
        snprintf(why, size, "%s", err.text);
        return false;
    }
    bool whole = is_whole(log, "night-1/1", why, size, found);
    log_close(log);
    return whole;
}

static inline void assert_whole(const struct place *place, struct verified *found)
{
    char why[2000];
    if (!place_is_whole(place, why, sizeof why, found)) {
        fail_msg("%s", why);
    }
}

#endif
