/* chain.c: digests of entries, each over the one before it. */
#include "ringtally/log/chain.h"

#include <stdlib.h>
#include <string.h>

#include "ringtally/base/digest.h"
#include "log/sql.h"

_Static_assert(sizeof((struct entry *)0)->prior == DIGEST_BYTES, "as long as a digest");

static void feed_text(struct digest *digest, const char *text)
{
    digest_text(digest, text, text ? strlen(text) : 0);
}

bool chain_known(const uint8_t digest[32])
{
    static const uint8_t none[DIGEST_BYTES];
    return memcmp(digest, none, sizeof none) != 0;
}

void chain_entry(uint8_t out[32], const struct desk_row *desks, const struct entry *entry)
{
    struct digest digest;
    digest_begin(&digest, CHAIN_ENTRY);
    feed_text(&digest, desks[entry->name.desk].uid);
    digest_number(&digest, entry->name.seq);
    if (chain_known(entry->prior)) {
        digest_bytes(&digest, entry->prior, sizeof entry->prior);
    } else {
        digest_none(&digest);
    }
    log_entry_feed(&digest, desks, entry);
    digest_end(&digest, out);
}

void chain_desk(uint8_t out[32], const char *card, int number, const struct desk_row *desks,
                int desk)
{
    const struct desk_row *row = &desks[desk];
    struct digest digest;
    digest_begin(&digest, CHAIN_DESK);
    feed_text(&digest, row->uid);
    feed_text(&digest, card);
    digest_number(&digest, number);
    feed_text(&digest, row->operator_);
    feed_text(&digest, row->name);
    feed_text(&digest, log_corners_words[row->corners & 3]);
    digest_number(&digest, row->shadow);
    digest_number(&digest, row->opened_ms);
    feed_text(&digest, row->root == desk ? NULL : desks[row->root].uid);
    digest_end(&digest, out);
}

/* How far a walk over entries has come with each desk. */
struct walk {
    const struct bout *bout;
    const struct desk_row *desks;
    struct chain_head *heads; /* by the desk's index; seq 0: its own row */
};

static int walk_begin(struct walk *walk, const struct bout *bout, const struct desk_row *desks,
                      int desk_count, struct error *err)
{
    *walk = (struct walk){bout, desks, calloc((size_t)desk_count + 1, sizeof *walk->heads)};
    if (!walk->heads) {
        return error_memory(err);
    }
    for (int i = 0; i < desk_count; i++) {
        chain_desk(walk->heads[i].digest, bout->card, bout->number, desks, i);
    }
    return 0;
}

/* What the entry ought to carry; NULL: the one before it has not come by. */
static const uint8_t *walk_prior(const struct walk *walk, const struct entry *entry)
{
    const struct chain_head *head = &walk->heads[entry->name.desk];
    return head->seq == entry->name.seq - 1 ? head->digest : NULL;
}

static void walk_on(struct walk *walk, const struct entry *entry)
{
    struct chain_head *head = &walk->heads[entry->name.desk];
    head->seq = entry->name.seq;
    chain_entry(head->digest, walk->desks, entry);
}

int chain_fill(const struct bout *bout, const struct desk_row *desks, int desk_count,
               struct entry *entries, size_t count, struct error *err)
{
    struct walk walk;
    int code = walk_begin(&walk, bout, desks, desk_count, err);
    for (size_t i = 0; i < count && !code; i++) {
        const uint8_t *prior = walk_prior(&walk, &entries[i]);
        if (prior && !chain_known(entries[i].prior)) {
            memcpy(entries[i].prior, prior, sizeof entries[i].prior);
        }
        if (chain_known(entries[i].prior)) { /* else its digest is not known either */
            walk_on(&walk, &entries[i]);
        }
    }
    free(walk.heads);
    return code;
}

int chain_broken(struct entry_name *out, const struct bout *bout, const struct desk_row *desks,
                 int desk_count, const struct entry *entries, size_t count, struct error *err)
{
    struct walk walk;
    *out = ENTRY_NONE;
    int code = walk_begin(&walk, bout, desks, desk_count, err);
    for (size_t i = 0; i < count && !code && out->desk < 0; i++) {
        const uint8_t *prior = walk_prior(&walk, &entries[i]);
        if (prior && chain_known(entries[i].prior) &&
            memcmp(prior, entries[i].prior, sizeof entries[i].prior) != 0) {
            *out = (struct entry_name){entries[i].name.desk, entries[i].name.seq - 1};
        }
        walk_on(&walk, &entries[i]);
    }
    free(walk.heads);
    return code;
}
