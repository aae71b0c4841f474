/* portable_load.c: reading the portable form. The whole text is read and checked before the
 * database is touched. */
#include <limits.h>
#include <stdarg.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <jansson.h>

#include "ringtally/log/portable.h"
#include "ringtally/base/digest.h"
#include "ringtally/base/grow.h"
#include "ringtally/base/sha256.h"
#include "ringtally/base/text.h"
#include "log/sql.h"

struct loader {
    const char *file;
    int line;
    json_t *object; /* of this line; what was taken from it is gone */
    int code;       /* the first failure; from then on nothing is read */
    struct error *err;

    struct card card; /* with the one bout */
    struct bout bout;
    struct desk_row *desks; /* root = index here */
    int desk_count, desk_room;
    struct entry *entries;
    size_t entry_count, entry_room;
    struct log_seal *seals;
    size_t seal_count, seal_room;
    int version; /* of the form */
    bool ended;
};

static void refuse(struct loader *loader, const char *format, ...) PRINTF_LIKE(2, 3);
static void refuse(struct loader *loader, const char *format, ...)
{
    char reason[400] = "";
    va_list args;
    va_start(args, format);
    vsnprintf(reason, sizeof reason, format, args);
    va_end(args);
    if (!loader->code) {
        loader->code =
            error_set(loader->err, ERROR_FAILED, "%s:%d: %s", loader->file, loader->line, reason);
    }
}

/* The value of a key, taken out of the line's object; the caller releases it. NULL: it is not
 * there. */
static json_t *take(struct loader *loader, const char *key, bool needed)
{
    json_t *value = loader->code ? NULL : json_incref(json_object_get(loader->object, key));
    if (!value && needed) {
        refuse(loader, "%s is missing", key);
    }
    if (value) {
        json_object_del(loader->object, key);
    }
    return value;
}

static void take_text(struct loader *loader, const char *key, char *out, size_t size, bool needed)
{
    json_t *value = take(loader, key, needed);
    if (value && !json_is_string(value)) {
        refuse(loader, "%s: a text is needed", key);
    } else if (value && !text_clean(out, size, json_string_value(value))) {
        refuse(loader, "%s: longer than %d bytes", key, (int)size - 1);
    }
    json_decref(value);
}

static int64_t take_number(struct loader *loader, const char *key, int64_t low, int64_t high,
                           bool needed)
{
    json_t *value = take(loader, key, needed);
    int64_t number = json_integer_value(value);
    if (value && (!json_is_integer(value) || number < low || number > high)) {
        refuse(loader, "%s: a whole number from %lld to %lld is needed", key, (long long)low,
               (long long)high);
    }
    json_decref(value);
    return number;
}

static bool take_flag(struct loader *loader, const char *key)
{
    json_t *value = take(loader, key, false);
    bool flag = json_is_true(value);
    if (value && !json_is_boolean(value)) {
        refuse(loader, "%s: true or false is needed", key);
    }
    json_decref(value);
    return flag;
}

/* Bytes as hexadecimal digits. */
static bool take_bytes(struct loader *loader, const char *key, unsigned char *out, size_t size,
                       bool needed)
{
    char text[2 * SIGNATURE_BYTES + 1] = "";
    bool there = json_object_get(loader->object, key) != NULL;
    take_text(loader, key, text, sizeof text, needed);
    if (there && !loader->code && !hex_read(out, size, text)) {
        refuse(loader, "%s: %d hexadecimal digits are needed", key, 2 * (int)size);
    }
    return there;
}

static uint8_t take_word(struct loader *loader, const char *key, const char *const *names,
                         int count, bool needed)
{
    char word[32] = "";
    bool there = json_object_get(loader->object, key) != NULL;
    take_text(loader, key, word, sizeof word, needed);
    /* What is absent is the first word of its table; what is there must be one of them. */
    int index = there ? name_index(names, count, word) : 0;
    if (index < 0) {
        refuse(loader, "%s: there is no %s", key, word);
        return 0;
    }
    return (uint8_t)index;
}

/* Nothing may be left that was not understood. */
static void expect_end(struct loader *loader)
{
    void *rest = json_object_iter(loader->object);
    if (rest && !loader->code) {
        refuse(loader, "%s is not known here", json_object_iter_key(rest));
    }
}

static int find_desk(const struct loader *loader, const char *uid)
{
    for (int i = loader->desk_count - 1; i >= 0; i--) {
        if (strcmp(loader->desks[i].uid, uid) == 0) {
            return i;
        }
    }
    return -1;
}

static int take_desk(struct loader *loader, const char *key)
{
    char uid[33] = "";
    take_text(loader, key, uid, sizeof uid, true);
    int desk = loader->code ? 0 : find_desk(loader, uid);
    if (desk < 0) {
        refuse(loader, "%s %s has no line of its own above", key, uid);
        return 0;
    }
    return desk;
}

/* Goes on with a member object as if it were the line; give the result back to leave(). */
static json_t *enter(struct loader *loader, const char *key, bool needed)
{
    json_t *inner = take(loader, key, needed);
    if (inner && !json_is_object(inner)) {
        refuse(loader, "%s: an object is needed", key);
    }
    if (!inner || loader->code) {
        json_decref(inner);
        return NULL;
    }
    json_t *outer = loader->object;
    loader->object = inner;
    return outer;
}

static void leave(struct loader *loader, json_t *outer)
{
    expect_end(loader);
    json_decref(loader->object);
    loader->object = outer;
}

static struct entry_name take_name(struct loader *loader, const char *key,
                                   struct entry_name otherwise, bool needed)
{
    json_t *outer = enter(loader, key, needed);
    if (!outer) {
        return otherwise;
    }
    struct entry_name name = {.desk = take_desk(loader, "desk")};
    name.seq = take_number(loader, "seq", 1, INT64_MAX, true);
    leave(loader, outer);
    return name;
}

static void set_field(struct loader *loader, const char *field, const char *value)
{
    struct error why = {0};
    if (!loader->code && bout_set(&loader->bout, field, value, &why)) {
        refuse(loader, "%s", why.text);
    }
}

static void take_field(struct loader *loader, const char *key, const char *field)
{
    char value[512] = "";
    take_text(loader, key, value, sizeof value, true);
    set_field(loader, field, value);
}

static void take_fighter(struct loader *loader, const char *corner)
{
    static const char *const keys[] = {"name", "short", "stance", "from", "record"};
    json_t *outer = enter(loader, corner, true);
    if (!outer) {
        return;
    }
    for (size_t i = 0; i < sizeof keys / sizeof keys[0]; i++) {
        char field[24] = "";
        snprintf(field, sizeof field, "%s.%s", corner, keys[i]);
        take_field(loader, keys[i], field);
    }
    leave(loader, outer);
}

static void take_judges(struct loader *loader)
{
    json_t *judges = take(loader, "judges", true);
    char all[JUDGE_MAX * 66] = "";
    size_t used = 0;
    if (judges && (!json_is_array(judges) || json_array_size(judges) > JUDGE_MAX)) {
        refuse(loader, "judges: a list of at most %d is needed", JUDGE_MAX);
    }
    for (size_t i = 0; !loader->code && i < json_array_size(judges); i++) {
        const char *name = json_string_value(json_array_get(judges, i));
        if (!name || strlen(name) >= sizeof loader->bout.judge[0]) {
            refuse(loader, "judges: names of at most 63 bytes are needed");
        } else {
            used += (size_t)snprintf(all + used, sizeof all - used, "%s,", name);
        }
    }
    set_field(loader, "judges", all);
    json_decref(judges);
}

static void read_card(struct loader *loader)
{
    struct card *card = &loader->card;
    json_t *outer = enter(loader, "card", true);
    if (!outer) {
        return;
    }
    take_text(loader, "id", card->id, sizeof card->id, true);
    take_text(loader, "title", card->title, sizeof card->title, true);
    take_text(loader, "date", card->date, sizeof card->date, true);
    take_text(loader, "venue", card->venue, sizeof card->venue, true);
    leave(loader, outer);
}

static void read_bout(struct loader *loader)
{
    char rounds[16] = "", ref[80] = "", card[48] = "";
    int number = 0;
    struct error why = {0};
    json_t *outer = enter(loader, "bout", true);
    if (!outer) {
        return;
    }
    loader->bout.number = (int)take_number(loader, "number", 1, 999, true);
    take_field(loader, "weight", "weight");
    take_field(loader, "rules", "rules");
    snprintf(rounds, sizeof rounds, "%d", (int)take_number(loader, "rounds", 0, ROUND_MAX, true));
    set_field(loader, "rounds", rounds);
    take_field(loader, "terms", "terms");
    take_field(loader, "referee", "referee");
    take_judges(loader);
    take_fighter(loader, "red");
    take_fighter(loader, "blue");
    leave(loader, outer);
    memcpy(loader->bout.card, loader->card.id, sizeof loader->bout.card);
    snprintf(ref, sizeof ref, "%s/%d", loader->bout.card, loader->bout.number);
    if (!loader->code &&
        (bout_ref_parse(card, &number, ref, &why) || bout_check(&loader->bout, &why))) {
        refuse(loader, "%s", why.text);
    }
}

static void read_head(struct loader *loader)
{
    char what[16] = "";
    take_text(loader, "ringtally", what, sizeof what, true);
    int64_t version = take_number(loader, "version", 1, INT_MAX, true);
    if (strcmp(what, "log") != 0) {
        refuse(loader, "this is no log of ringtally's");
    } else if (version > PORTABLE_VERSION) {
        refuse(loader, "the log has version %lld; this ringtally knows up to version %d",
               (long long)version, PORTABLE_VERSION);
    }
    loader->version = (int)version;
    read_card(loader);
    read_bout(loader);
}

/* Makes room for one more element of a table. */
static bool grow(struct loader *loader, void **table, size_t size, size_t have, size_t *room)
{
    if (!grow_array(table, size, have, 1, room)) {
        loader->code = error_memory(loader->err);
        return false;
    }
    return true;
}

static void read_desk(struct loader *loader)
{
    static const char *const corners[] = {"", "red", "blue", "both"};
    struct desk_row desk = {.root = loader->desk_count};
    take_text(loader, "desk", desk.uid, sizeof desk.uid, true);
    take_text(loader, "operator", desk.operator_, sizeof desk.operator_, true);
    take_text(loader, "name", desk.name, sizeof desk.name, true);
    desk.corners = take_word(loader, "corners", corners, 4, true);
    desk.shadow = take_flag(loader, "shadow");
    desk.opened_ms = take_number(loader, "opened_ms", 0, MOMENT_MAX, true);
    if (json_object_get(loader->object, "continues")) {
        desk.root = take_desk(loader, "continues");
    }
    if (!loader->code && desk_fault(&desk)) {
        refuse(loader, "%s", desk_fault(&desk));
    }
    if (!loader->code && find_desk(loader, desk.uid) >= 0) {
        refuse(loader, "desk %s is there twice", desk.uid);
    }
    size_t room = (size_t)loader->desk_room;
    if (!loader->code &&
        grow(loader, (void **)&loader->desks, sizeof desk, (size_t)loader->desk_count, &room)) {
        loader->desk_room = (int)room;
        loader->desks[loader->desk_count++] = desk;
    }
}

static struct strike take_strike(struct loader *loader, unsigned uses)
{
    bool is_strike = uses & USES_STRIKE;
    struct strike strike = {
        .corner = take_word(loader, "corner", corner_names, CORNER_COUNT, uses & USES_CORNER),
        .limb = take_word(loader, "limb", limb_names, LIMB_COUNT, is_strike),
        .target = take_word(loader, "target", target_names, TARGET_COUNT, is_strike),
        .stance = take_word(loader, "stance", stance_names, STANCE_COUNT, uses & USES_STANCE),
        .position = take_word(loader, "position", position_names, POSITION_COUNT, true),
        .outcome = take_word(loader, "outcome", outcome_names, OUTCOME_COUNT, is_strike),
    };
    strike.technique |= take_flag(loader, "spinning") ? TECHNIQUE_SPINNING : 0;
    strike.technique |= take_flag(loader, "jumping") ? TECHNIQUE_JUMPING : 0;
    strike.technique |= take_flag(loader, "knockdown") ? TECHNIQUE_KNOCKDOWN : 0;
    return strike;
}

static void read_entry(struct loader *loader)
{
    struct entry entry = {.name.seq = take_number(loader, "entry", 1, INT64_MAX, true)};
    entry.name.desk = take_desk(loader, "desk");
    entry.utc_ms = take_number(loader, "utc_ms", 0, MOMENT_MAX, true);
    entry.at_ms = take_number(loader, "at_ms", 0, MOMENT_MAX, true);
    entry.kind = take_word(loader, "kind", entry_kind_names, ENTRY_KIND_COUNT, true);
    entry.act = take_word(loader, "act", entry_act_names, ACT_COUNT, true);
    entry.code = take_word(loader, "code", entry_code_names, CODE_ALL, false);
    entry.subject = take_name(loader, "subject", entry.name, entry.act != ACT_ADD);
    entry.undoes = take_name(loader, "undoes", ENTRY_NONE, false);
    entry.round = (uint8_t)take_number(loader, "round", 1, ROUND_MAX, true);
    entry.elapsed_ms = (int32_t)take_number(loader, "elapsed_ms", 0, INT32_MAX, true);
    entry.off_clock = take_flag(loader, "off_clock");
    entry.review = take_flag(loader, "review");
    entry.accepted = take_flag(loader, "accepted");
    entry.unsure = take_flag(loader, "unsure");
    entry.strike = take_strike(loader, entry_uses(entry.kind));
    int64_t low = 0, high = 0;
    entry_value_range(&entry, &low, &high);
    entry.value = take_number(loader, "value", low, high, false);
    take_text(loader, "text", entry.text, sizeof entry.text, false);
    if (loader->version > 1) {
        take_bytes(loader, "prior", entry.prior, sizeof entry.prior, false);
    }
    const char *fault = loader->code ? NULL : entry_fault(&entry, loader->desk_count);
    if (fault) {
        refuse(loader, "%s", fault);
    }
    if (!loader->code && grow(loader, (void **)&loader->entries, sizeof entry, loader->entry_count,
                              &loader->entry_room)) {
        loader->entries[loader->entry_count++] = entry;
    }
}

/* (Its words keep their line feeds, so they are not cleaned; where they hold anything else that no
 * seal has, its digest or the bout will not be as it says.) */
static void read_seal(struct loader *loader)
{
    struct log_seal seal = {0};
    json_t *value = take(loader, "seal", true);
    const char *text = json_string_value(value);
    if (!loader->code && !text) {
        refuse(loader, "seal: a text is needed");
    }
    take_bytes(loader, "digest", seal.digest, sizeof seal.digest, true);
    seal.has_signature =
        take_bytes(loader, "signature", seal.signature, sizeof seal.signature, false);
    if (!loader->code && grow(loader, (void **)&loader->seals, sizeof seal, loader->seal_count,
                              &loader->seal_room)) {
        seal.statement = strdup(text);
        if (seal.statement) {
            loader->seals[loader->seal_count++] = seal;
        } else {
            loader->code = error_memory(loader->err);
        }
    }
    json_decref(value);
}

/* `above` = bytes of the lines above it. */
static void read_end(struct loader *loader, const char *text, size_t above)
{
    char written[SHA256_TEXT] = "", here[SHA256_TEXT];
    int64_t lines = take_number(loader, "end", 0, INT_MAX, true);
    take_text(loader, "sha256", written, sizeof written, true);
    if (!loader->code && lines != loader->line - 1) {
        refuse(loader, "%lld lines were written, %d are here", (long long)lines, loader->line - 1);
    }
    sha256_text(here, text, above);
    if (!loader->code && strcmp(written, here) != 0) {
        refuse(loader, "the lines above were changed after they were written: their SHA-256 is "
                       "another");
    }
    loader->ended = true;
}

/* The line from byte `from` to byte `to`. */
static void read_line(struct loader *loader, const char *text, size_t from, size_t to)
{
    json_error_t why;
    if (loader->ended) {
        refuse(loader, "the log has ended above");
        return;
    }
    loader->object = json_loadb(text + from, to - from, JSON_REJECT_DUPLICATES, &why);
    if (!json_is_object(loader->object)) {
        refuse(loader, loader->object ? "an object is needed" : "no JSON: %s", why.text);
    } else if (loader->line == 1) {
        read_head(loader);
    } else if (json_object_get(loader->object, "entry")) {
        read_entry(loader);
    } else if (loader->version > 1 && json_object_get(loader->object, "seal")) {
        read_seal(loader);
    } else if (json_object_get(loader->object, "end")) {
        read_end(loader, text, from);
    } else {
        read_desk(loader);
    }
    if (!loader->code) {
        expect_end(loader);
    }
    json_decref(loader->object);
    loader->object = NULL;
}

static void read_all(struct loader *loader, const char *text, size_t size)
{
    for (size_t from = 0; from < size && !loader->code;) {
        const char *stop = memchr(text + from, '\n', size - from);
        size_t to = stop ? (size_t)(stop - text) : size;
        loader->line++;
        read_line(loader, text, from, to);
        from = to + 1;
    }
    if (!loader->code && !loader->ended) {
        loader->code = error_set(loader->err, ERROR_FAILED,
                                 "%s: cut short after line %d: its last line is missing",
                                 loader->file, loader->line);
    }
}

int portable_load(struct log *log, const char *text, size_t size, const char *file, size_t *added,
                  struct error *err)
{
    struct loader loader = {.file = file, .err = err};
    *added = 0;
    read_all(&loader, text, size);
    int code = loader.code;
    if (!code && log) {
        code = sql_begin(log, err);
    }
    if (!code && log) {
        struct union_part part = {
            .from = file,
            .card = &loader.card,
            .bout = &loader.bout,
            .desks = loader.desks,
            .desk_count = loader.desk_count,
            .entries = loader.entries,
            .entry_count = loader.entry_count,
            .seals = loader.seals,
            .seal_count = loader.seal_count,
            .unchained = loader.version == 1,
        };
        code = sql_end(log, union_put(log, &part, added, err), err);
    }
    if (code) {
        *added = 0;
    }
    free(loader.desks);
    free(loader.entries);
    log_seals_free(loader.seals, loader.seal_count);
    return code;
}
