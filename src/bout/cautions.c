/* cautions.c: what has to be said beside the numbers. */
#include "ringtally/bout/cautions.h"

#define DECIDE "Referee, ringside physician, judges and commission decide, under local rules."
#define LIVE   "Unofficial until signed. No basis for scoring or betting."

const char caution_decide[] = DECIDE;
const char caution_cards[] = "The cards as written. " DECIDE;
const char caution_health[] =
    "No medical finding: the referee and the ringside physician decide whether a boxer goes on.";
const char caution_history[] = "No medical record: suspensions are the commission's. Bouts logged "
                               "elsewhere are missing. " DECIDE;
const char caution_live[] = LIVE;
const char caution_remarks[] = LIVE " " DECIDE;
const char caution_signed[] = "Counted by hand. No basis for scoring or betting.";
const char caution_landing[] = "Landed or not is the judgement of the person at the keys.";
const char caution_count[] = "own count; the referee's holds";
