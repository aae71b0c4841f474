/* standing.c: how a record stands: provisional or signed, sealed how, and what came in since. */
#include <stdio.h>
#include <string.h>

#include "ringtally/base/when.h"
#include "sheet/figures.h"

/* What was released for the air since the signature is no entry that it would have to cover. */
static size_t releases_since(const struct entry *entries, size_t count, const struct entry *sign)
{
    size_t found = 0;
    for (size_t i = count; i-- > 0 && !entry_same(entries[i].name, sign->name);) {
        found += entries[i].kind == ENTRY_RELEASE;
    }
    return found;
}

static void add_words(char *text, size_t size, const char *words)
{
    size_t used = strlen(text);
    snprintf(text + used, size - used, "%s", words);
}

/* Held for review: said wherever the sheet says how it stands. */
static void status_held(struct figures *out)
{
    const struct gate_state *gate = out->view->gate;
    for (int kind = 0; gate && kind < GATE_KINDS; kind++) {
        if (gate->waiting[kind] > 0) {
            add_words(out->standing, sizeof out->standing, ", some held");
            add_words(out->status, sizeof out->status, "; some is held for review");
            return;
        }
    }
}

/* "; key 3f2a0c...": how the signature was sealed, and whether the record still is what it was. */
static void add_seal(struct figures *out)
{
    const struct seal_state *seal = out->view->seal;
    size_t used = strlen(out->status);
    char *end = out->status + used;
    size_t room = sizeof out->status - used;
    if (seal->broken) {
        snprintf(end, room, "; THE RECORD IS NOT AS IT WAS SIGNED: `ringtally verify` says where");
    } else if (seal->kind == SEAL_KEYED) {
        snprintf(end, room, "; key %.16s", seal->key);
    } else {
        snprintf(end, room, "; %s",
                 seal->kind == SEAL_UNKEYED ? "sealed without a key" : "without a seal");
    }
}

void figures_status(struct figures *out)
{
    const struct desk_row *desks = NULL;
    const struct entry *entries = NULL;
    const struct entry *sign = fold_signed(out->view->fold);
    fold_desks(out->view->fold, &desks);
    out->entries = fold_entries(out->view->fold, &entries);
    out->closed = sign != NULL;
    for (size_t i = out->entries; i-- > 0 && !sign;) { /* if it was ever signed, who reopened it */
        sign = entries[i].kind == ENTRY_SIGN ? &entries[i] : NULL;
    }
    if (sign) {
        char who[64], when[WHEN_SIZE];
        figures_clean(who, sizeof who, desks[sign->name.desk].operator_);
        if (out->closed) {
            snprintf(out->signer, sizeof out->signer, "%s", who);
            out->signed_ms = sign->utc_ms;
        }
        size_t covered = (size_t)sign->value + 1; /* and itself */
        covered += releases_since(entries, out->entries, sign);
        out->since = out->closed && out->entries > covered ? out->entries - covered : 0;
        snprintf(out->status, sizeof out->status, "%s by %s, %s",
                 out->closed ? "signed" : "provisional: reopened", who,
                 when_rfc3339(when, sign->utc_ms));
    } else {
        snprintf(out->status, sizeof out->status, "provisional: not signed");
    }
    bool broken = out->closed && out->view->seal && out->view->seal->broken;
    snprintf(out->standing, sizeof out->standing, "%s",
             broken        ? "NOT AS SIGNED"
             : out->closed ? "signed"
                           : "provisional");
    out->status_break = strlen(out->status);
    if (out->closed && out->view->seal) {
        add_seal(out);
    }
    if (out->since) {
        size_t used = strlen(out->status);
        if (!broken) {
            snprintf(out->standing, sizeof out->standing, "signed, %zu since", out->since);
        }
        snprintf(out->status + used, sizeof out->status - used,
                 "; %zu entr%s came in since, not covered by it", out->since,
                 out->since == 1 ? "y" : "ies");
    }
    status_held(out);
}
