/* hub_cmds.h: the commands of ringtally-hub. */
#ifndef RINGTALLY_CLI_HUB_CMDS_H
#define RINGTALLY_CLI_HUB_CMDS_H

#include "cli/cli.h"

command hub_command_same, hub_command_history;

/* Whether it is a command that is asked of a log, and then of a bout brought from the hub. */
command *hub_reading_command(const char *name);
/* Runs it on a log of its own, which is gone afterwards. The words have --hub URI among them. */
int hub_command_read(const struct call *call, command *run, bool former, struct error *err);

#endif
