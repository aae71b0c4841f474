/* hub_log.h: cards, bouts, desks and entries at the hub, as log.h has them locally. For src/hub
 * only.
 */
#ifndef RINGTALLY_HUB_HUB_LOG_H
#define RINGTALLY_HUB_HUB_LOG_H

#include "hub/hub_link.h"
#include "ringtally/bout/card.h"
#include "ringtally/bout/entry.h"
#include "ringtally/log/seal.h"

/* Where a bout is at the hub. */
struct hub_place {
    int64_t id;       /* 0: nowhere */
    int64_t arrivals; /* what came into it: entries with numbers up to this are there to be seen */
};

int hub_card_get(struct hub *hub, const char *id, struct card *out, struct error *err);
/* `bout` may be NULL. */
int hub_bout_get(struct hub *hub, const char *card, int number, struct hub_place *place,
                 struct bout *bout, struct error *err);
/* Brings card, bout and desks there as far as they are not; refuses other rules. */
int hub_bout_put(struct hub *hub, const struct card *card, const struct bout *bout,
                 const struct desk_row *desks, int desk_count, int64_t *id, struct error *err);
/* As log_desks: in the order of ids, `root` an index. Caller frees *out. */
int hub_desks(struct hub *hub, int64_t bout, struct desk_row **out, int *count, struct error *err);

/* The same of rows that were read, from the id's column on; malloc'd. */
struct desk_row *hub_read_desks(const PGresult *rows, int from, int to, int column);

/* Adds entries of a bout in one transaction, numbered in their order; ids[] leads from their desk
 * index to the hub's. *base = the number before the first of them, *added = how many were new. */
int hub_entries_put(struct hub *hub, int64_t bout, const int64_t *ids, const struct entry *entries,
                    size_t count, int64_t *base, size_t *added, struct error *err);

/* Entries read, in the order of their arrival. */
struct hub_entries {
    struct entry *entries; /* malloc'd, caller frees */
    size_t count;
    int64_t arrival; /* of the last of them; 0: there is none */
};
/* Those behind an arrival, at most `limit`; and those of ranges of names. Desk indexes are those of
 * the table. An entry that cannot be one is an error. */
int hub_entries_since(struct hub *hub, int64_t bout, int64_t arrival, int limit,
                      const struct desk_row *desks, int desk_count, struct hub_entries *out,
                      struct error *err);
struct hub_range {
    int64_t desk, low, high; /* the hub's id of the desk; sequence numbers */
};
int hub_entries_named(struct hub *hub, int64_t bout, const struct hub_range *ranges, size_t ranges_,
                      const struct desk_row *desks, int desk_count, struct hub_entries *out,
                      struct error *err);

/* An entry from its columns, ENTRY_CONTENT; `prior` stays unknown. */
int hub_read_content(const struct hub *hub, const char *const *row, const struct desk_row *desks,
                     int desk_count, struct entry *out, struct error *err);

int hub_seal_put(struct hub *hub, int64_t bout, const struct log_seal *seal, struct error *err);
/* All seals of a bout; given back by log_seals_free. */
int hub_seals(struct hub *hub, int64_t bout, struct log_seal **out, size_t *count,
              struct error *err);

#endif
