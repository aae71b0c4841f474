/* cautions.h: what has to be said beside the numbers, worded once. The program counts and reports;
 * whoever reads it somewhere must read there, too, who decides. */
#ifndef RINGTALLY_BOUT_CAUTIONS_H
#define RINGTALLY_BOUT_CAUTIONS_H

extern const char caution_decide[];  /* sheets, limits: who decides */
extern const char caution_cards[];   /* beside cards and what they imply */
extern const char caution_health[];  /* wherever a knockdown, a count or an injury stands */
extern const char caution_history[]; /* a fighter's earlier bouts */
extern const char caution_live[];    /* what is not signed */
extern const char caution_remarks[]; /* sentences about it */
extern const char caution_signed[];  /* what is */
extern const char caution_landing[]; /* beside landed and accuracy */
extern const char caution_count[];   /* the console's own count of a boxer who is down */

#endif
