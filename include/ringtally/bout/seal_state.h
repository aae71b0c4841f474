/* seal_state.h: what a reader is told of the seal on a signed record. */
#ifndef RINGTALLY_BOUT_SEAL_STATE_H
#define RINGTALLY_BOUT_SEAL_STATE_H

#include <stdbool.h>

enum seal_kind {
    SEAL_NONE,    /* signed without one, before there were seals */
    SEAL_UNKEYED, /* shows what was changed, unless the seal was made anew as well */
    SEAL_KEYED,   /* signed with a key */
};

struct seal_state {
    enum seal_kind kind;
    bool broken;  /* the record is not what was sealed */
    char key[65]; /* the public key, hexadecimal; "" without one */
};

#endif
