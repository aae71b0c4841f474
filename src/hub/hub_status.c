/* hub_status.c: how far a local log and the hub are apart. */
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "hub/pair.h"

/* One bout on both sides. */
static int add_pair(struct hub *hub, struct log *log, struct pair *pair, struct hub_gap *out,
                    struct error *err)
{
    struct hub_gap gap = {0};
    int code = pair_meet(pair, hub, err);
    code = code ? code : pair_gap(pair, log, &gap, err);
    pair_release(pair);
    out->here += gap.here;
    out->there += gap.there;
    if (gap.here_ms && (!out->here_ms || gap.here_ms < out->here_ms)) {
        out->here_ms = gap.here_ms;
    }
    return code;
}

static int compare_card(struct hub *hub, struct log *log, const char *id, struct hub_gap *out,
                        struct error *err)
{
    struct buf cards = BUF_INIT;
    struct card card = {.bouts = 0};
    struct error none = {0};
    int code = log_card_get(log, id, &card, &none); /* it may be at the hub only */
    if (code == ERROR_MEMORY) {
        return error_memory(err);
    }
    code = 0;
    for (int i = 0; i < card.bouts && !code; i++) {
        struct pair pair = {.number = card.bout[i].number, .here = card.bout[i].id};
        snprintf(pair.card, sizeof pair.card, "%s", id);
        code = add_pair(hub, log, &pair, out, err);
    }
    array_text(&cards, id);
    array_end(&cards);
    const char *const values[] = {cards.text};
    PGresult *rows = code || cards.failed ? NULL : link_run(hub, HUB_BOUT_LIST, values, err);
    code = code ? code : cards.failed ? error_memory(err) : rows ? 0 : link_failed(err);
    for (int i = 0; rows && i < PQntuples(rows) && !code; i++) {
        struct pair pair = {.number = (int)link_number(rows, i, 1)};
        bool known = false;
        snprintf(pair.card, sizeof pair.card, "%s", id);
        for (int j = 0; j < card.bouts; j++) {
            known = known || card.bout[j].number == pair.number;
        }
        code = known ? 0 : add_pair(hub, log, &pair, out, err);
    }
    PQclear(rows);
    buf_release(&cards);
    card_release(&card);
    return code;
}

int hub_compare(struct hub *hub, struct log *log, const char *card, struct hub_gap *out,
                struct error *err)
{
    char(*ids)[48] = NULL;
    size_t count = 0;
    *out = (struct hub_gap){0};
    if (card[0]) {
        return compare_card(hub, log, card, out, err);
    }
    int code = log_card_ids(log, &ids, &count, err);
    for (size_t i = 0; i < count && !code; i++) {
        code = compare_card(hub, log, ids[i], out, err);
    }
    free(ids);
    return code;
}
