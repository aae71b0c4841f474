/* remarks_find.h: the search for what can be said. Private to the room. */
#ifndef RINGTALLY_INSIGHT_REMARKS_FIND_H
#define RINGTALLY_INSIGHT_REMARKS_FIND_H

#include "ringtally/insight/remarks.h"

enum tier {
    TIER_KNOCKDOWN,
    TIER_TURN, /* a lead that changed hands, a finding */
    TIER_STREAK,
    TIER_RECORD,
    TIER_FIRST,
    TIER_STANDING,
    TIER_MILESTONE /* behind all else, whatever the round */
};

struct search {
    const struct remark_rule *rule;
    const struct fold *fold;
    const struct tally *tally;
    const struct stream *stream;
    const struct slices *slices;
    const struct former *former; /* NULL: none known */
    int planned; /* rounds scheduled */
    struct remarks *out;
    size_t room;
    bool failed; /* out of memory */
};

void search_add(struct search *search, const struct remark *remark);

/* A fact of a round or, 0, of the bout. */
struct remark search_standing(const struct search *search, enum remark_kind kind, int variant,
                              enum corner corner, int round);

void search_facts(struct search *search);
void search_records(struct search *search);
/* 0 or an error. */
int search_findings(struct search *search, struct error *err);

/* A question: the remark that is told if its p holds. */
struct question {
    struct remark remark;
    struct contrast contrast; /* but of a set-up and a strike that lands best */
    double p, weight, adjusted;
};

/* Questions that are asked together, and among which false discoveries are held. */
struct family {
    struct question *question;
    size_t count, room;
    double weight; /* of all */
};
/* Makes room for `more` questions; one begins as {.question = NULL}. 0 or ERROR_MEMORY. */
int family_reserve(struct family *family, size_t more, struct error *err);
void family_release(struct family *family);
/* Asks, where there is room. */
void family_ask(struct family *family, const struct question *question);
/* What changed in `round`: pace, accuracy and targets of both corners against the rounds before; at
 * most FAMILY_CHANGES. Pace and accuracy weigh 1, the targets together 1. */
#define FAMILY_CHANGES (CORNER_COUNT * (2 + TARGET_COUNT))
void family_changes(struct family *family, const struct slices *slices, const struct tally *tally,
                    const struct remark_rule *rule, int round);
/* Whether the question's adjusted p holds; then its remark has estimate and p filled in. */
bool question_holds(struct question *question, double error, double level);
/* Adjusts the p of all. 0 or ERROR_MEMORY. */
int family_adjust(struct family *family, struct error *err);

#endif
