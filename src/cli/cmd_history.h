/* cmd_history.h: fighters' histories out of the database, for the commands that show them. */
#ifndef RINGTALLY_CLI_HISTORY_H
#define RINGTALLY_CLI_HISTORY_H

#include "cli/cli.h"
#include "ringtally/sheet/history_sheet.h"

/* All bouts of that very name, but for the one with the id `but` (0: none left out). Release *out
 * in any case. */
int cli_history(struct history *out, struct log *log, const char *name, int64_t but,
                struct error *err);
/* Both fighters of each bout side by side, that bout itself left out. */
int cli_history_pairs(struct buf *out, struct log *log, const struct card *card, struct error *err);

#endif
