/* process.h: the player's process and the folder of its socket. */
#ifndef RINGTALLY_PLAYER_PROCESS_H
#define RINGTALLY_PLAYER_PROCESS_H

#include <stdbool.h>
#include <stdint.h>
#include <sys/types.h>

#include "ringtally/base/error.h"

struct process {
    pid_t pid;        /* 0: none runs */
    int lifeline;     /* the process ends when this end of it is closed; -1 */
    char folder[80];  /* "": none was made */
    char socket[100]; /* in it */
};

/* Starts it; 0 only once the program runs. */
int process_start(struct process *process, const char *recording, int64_t from_ms,
                  struct error *err);
/* True once it has ended by itself; then it is forgotten. *refused: it could not play what it was
 * given (the player's exit code 2, as its manual has it). */
bool process_ended(struct process *process, bool *refused);
/* Ends it, at the latest by force, and removes its folder. */
void process_end(struct process *process);

#endif
