/* portable.c: writing the portable form. Keys are the columns of the tables; what is false, 0 or
 * empty in an entry is left out. */
#include "ringtally/log/portable.h"

#include <stdlib.h>
#include <string.h>

#include <jansson.h>

#include "ringtally/base/digest.h"
#include "ringtally/base/sha256.h"
#include "ringtally/base/tree.h"
#include "ringtally/log/chain.h"
#include "log/sql.h"

static json_t *fighter_json(const struct fighter *fighter)
{
    return json_pack("{s:s, s:s, s:s, s:s, s:s}", "name", fighter->name, "short",
                     fighter->short_name, "stance", stance_names[fighter->stance], "from",
                     fighter->from, "record", fighter->record);
}

static json_t *judges_json(const struct bout *bout)
{
    json_t *judges = json_array();
    bool failed = false;
    for (int i = 0; i < bout->judges; i++) {
        tree_add(judges, json_string(bout->judge[i]), &failed);
    }
    if (failed) {
        json_decref(judges);
        judges = NULL;
    }
    return judges;
}

static json_t *head_json(const struct card *card, const struct bout *bout)
{
    return json_pack("{s:s, s:i, s:{s:s, s:s, s:s, s:s}, "
                     "s:{s:i, s:s, s:s, s:i, s:s, s:s, s:o, s:o, s:o}}",
                     "ringtally", "log", "version", PORTABLE_VERSION, "card", "id", card->id,
                     "title", card->title, "date", card->date, "venue", card->venue, "bout",
                     "number", bout->number, "weight", bout->weight, "rules", bout->rules, "rounds",
                     bout->rounds, "terms", bout->terms, "referee", bout->referee, "judges",
                     judges_json(bout), "red", fighter_json(&bout->fighter[CORNER_RED]), "blue",
                     fighter_json(&bout->fighter[CORNER_BLUE]));
}

static json_t *desk_json(const struct desk_row *desks, int index)
{
    const struct desk_row *desk = &desks[index];
    bool red = desk->corners >> CORNER_RED & 1, blue = desk->corners >> CORNER_BLUE & 1;
    return json_pack("{s:s, s:s, s:s, s:s, s:b, s:I, s:s*}", "desk", desk->uid, "operator",
                     desk->operator_, "name", desk->name, "corners",
                     red && blue ? "both"
                     : red       ? "red"
                     : blue      ? "blue"
                                 : "",
                     "shadow", desk->shadow, "opened_ms", (json_int_t)desk->opened_ms, "continues",
                     desk->root == index ? NULL : desks[desk->root].uid);
}

static json_t *name_json(const struct desk_row *desks, struct entry_name name)
{
    return json_pack("{s:s, s:I}", "desk", desks[name.desk].uid, "seq", (json_int_t)name.seq);
}

static int set_word(json_t *object, const char *key, const char *word, bool used)
{
    return used ? json_object_set_new(object, key, json_string(word)) : 0;
}

static int set_flag(json_t *object, const char *key, bool flag)
{
    return flag ? json_object_set_new(object, key, json_true()) : 0;
}

static json_t *entry_json(const struct desk_row *desks, const struct entry *entry)
{
    const struct strike *strike = &entry->strike;
    unsigned uses = entry_uses(entry->kind);
    int code = 0;
    json_t *object =
        json_pack("{s:I, s:s, s:I, s:I, s:s, s:s}", "entry", (json_int_t)entry->name.seq, "desk",
                  desks[entry->name.desk].uid, "utc_ms", (json_int_t)entry->utc_ms, "at_ms",
                  (json_int_t)entry->at_ms, "kind", entry_kind_names[entry->kind], "act",
                  entry_act_names[entry->act]);
    if (!object) {
        return NULL;
    }
    code |= set_word(object, "code", entry_code_names[entry->code], entry->code != CODE_NONE);
    if (entry->act != ACT_ADD) {
        code |= json_object_set_new(object, "subject", name_json(desks, entry->subject));
    }
    if (entry->undoes.desk >= 0) {
        code |= json_object_set_new(object, "undoes", name_json(desks, entry->undoes));
    }
    code |= json_object_set_new(object, "round", json_integer(entry->round));
    code |= json_object_set_new(object, "elapsed_ms", json_integer(entry->elapsed_ms));
    code |= set_flag(object, "off_clock", entry->off_clock);
    code |= set_flag(object, "review", entry->review);
    code |= set_flag(object, "accepted", entry->accepted);
    code |= set_flag(object, "unsure", entry->unsure);
    code |= set_word(object, "corner", corner_names[strike->corner], uses & USES_CORNER);
    code |= set_word(object, "limb", limb_names[strike->limb], uses & USES_STRIKE);
    code |= set_word(object, "target", target_names[strike->target], uses & USES_STRIKE);
    code |= set_word(object, "stance", stance_names[strike->stance], uses & USES_STANCE);
    code |= set_word(object, "position", position_names[strike->position], true);
    code |= set_word(object, "outcome", outcome_names[strike->outcome], uses & USES_STRIKE);
    code |= set_flag(object, "spinning", strike->technique & TECHNIQUE_SPINNING);
    code |= set_flag(object, "jumping", strike->technique & TECHNIQUE_JUMPING);
    code |= set_flag(object, "knockdown", strike->technique & TECHNIQUE_KNOCKDOWN);
    if (entry->value) {
        code |= json_object_set_new(object, "value", json_integer(entry->value));
    }
    code |= set_word(object, "text", entry->text, entry->text[0]);
    if (chain_known(entry->prior)) {
        char prior[DIGEST_TEXT];
        hex_write(prior, entry->prior, sizeof entry->prior);
        code |= json_object_set_new(object, "prior", json_string(prior));
    }
    if (code) {
        json_decref(object);
        return NULL;
    }
    return object;
}

static json_t *seal_json(const struct log_seal *seal)
{
    char digest[DIGEST_TEXT], signature[2 * SIGNATURE_BYTES + 1];
    hex_write(digest, seal->digest, sizeof seal->digest);
    hex_write(signature, seal->signature, sizeof seal->signature);
    return json_pack("{s:s, s:s, s:s*}", "seal", seal->statement, "digest", digest, "signature",
                     seal->has_signature ? signature : NULL);
}

static bool names_known(const struct entry *entry, int desks)
{
    return entry->name.desk >= 0 && entry->name.desk < desks && entry->subject.desk < desks &&
           entry->undoes.desk < desks;
}

/* The entries, with all digests that can be told. */
static int link_entries(struct entry **out, const struct portable *portable, struct error *err)
{
    size_t count = portable->entry_count;
    for (size_t i = 0; i < count; i++) {
        if (!names_known(&portable->entries[i], portable->desk_count)) {
            return error_set(err, ERROR_FAILED, "entry %lld names a desk that is not given",
                             (long long)portable->entries[i].name.seq);
        }
    }
    struct entry *linked = malloc((count + 1) * sizeof *linked);
    if (!linked) {
        return error_memory(err);
    }
    if (count > 0) {
        memcpy(linked, portable->entries, count * sizeof *linked);
    }
    *out = linked;
    return chain_fill(portable->bout, portable->desks, portable->desk_count, linked, count, err);
}

int portable_write(struct buf *out, const struct portable *portable, struct error *err)
{
    size_t begun = out->size;
    size_t lines = 1 + (size_t)portable->desk_count + portable->entry_count + portable->seal_count;
    struct entry *entries = NULL;
    int code = link_entries(&entries, portable, err);
    if (code) {
        goto cleanup;
    }
    code = tree_write(out, head_json(portable->card, portable->bout), false, JSON_COMPACT, err);
    for (int i = 0; i < portable->desk_count && !code; i++) {
        code = tree_write(out, desk_json(portable->desks, i), false, JSON_COMPACT, err);
    }
    for (size_t i = 0; i < portable->entry_count && !code; i++) {
        code = tree_write(out, entry_json(portable->desks, &entries[i]), false, JSON_COMPACT, err);
    }
    for (size_t i = 0; i < portable->seal_count && !code; i++) {
        code = tree_write(out, seal_json(&portable->seals[i]), false, JSON_COMPACT, err);
    }
    if (!code) {
        char digest[SHA256_TEXT];
        sha256_text(digest, out->text + begun, out->size - begun);
        buf_addf(out, "{\"end\":%zu,\"sha256\":\"%s\"}\n", lines, digest);
    }
    code = !code && out->failed ? error_memory(err) : code;

cleanup:
    free(entries);
    return code;
}
