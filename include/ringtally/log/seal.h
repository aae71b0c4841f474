/* seal.h: what a bout's chains (chain.h) were at a moment, stated so that it can be held against
 * what is there.
 *
 * A statement is lines of text, each a word and what it says:
 *
 *   ringtally seal 1
 *   bout CARD/NUMBER
 *   made sign | migration | import     why; the last two: digests made for entries that had none
 *   utc_ms N                           when
 *   key HEX | none                     the public key that it is signed with
 *   title, date, venue, weight, rules, rounds, terms, referee, judge.N, red.name, red.short, ...
 *                                      only `sign`: what is said of the bout beside its entries
 *   desk UID COUNT SEQ HEX             a desk: its entries, the highest number, and the digest of
 *                                      that entry (COUNT 0: of the desk's own row)
 *   by UID SEQ                         only `sign`: the entry that signs
 *
 * With it go its BLAKE2b digest and, where there is a key, its Ed25519 signature: over just these
 * bytes, so that other programs can check both. Without a key a seal finds what was changed by
 * whoever did not make a new one; with a key nobody else can.
 */
#ifndef RINGTALLY_LOG_SEAL_H
#define RINGTALLY_LOG_SEAL_H

#include "ringtally/base/buf.h"
#include "ringtally/log/log.h"

/* A seal as it is kept; `statement` is the owner's. */
struct log_seal {
    char *statement;
    unsigned char digest[32];
    bool has_signature;
    unsigned char signature[SIGNATURE_BYTES];
};

/* All of a bout, in the order in which they came in; caller gives back by log_seals_free. */
int log_seals(struct log *log, int64_t bout, struct log_seal **out, size_t *count,
              struct error *err);
void log_seals_free(struct log_seal *seals, size_t count);

/* Why the seal itself is none of ours (its digest, signature, or form is off), or NULL. */
const char *log_seal_fault(const struct log_seal *seal);

#endif
