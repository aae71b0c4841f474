/* coach_say.h: the making of the coach's three sentences. Private to the room. */
#ifndef RINGTALLY_INSIGHT_COACH_SAY_H
#define RINGTALLY_INSIGHT_COACH_SAY_H

#include "insight/remarks_find.h"
#include "ringtally/insight/coach.h"

/* What the sentences are made from. */
struct coach_study {
    const struct fold *fold;
    const struct rules *rules;
    const struct slices *slices;
    int asked; /* 0: the bout */
};

/* The three sentences; needs all else filled in. 0 or ERROR_MEMORY. */
int coach_say(struct coach *coach, const struct coach_study *study, struct error *err);

#endif
