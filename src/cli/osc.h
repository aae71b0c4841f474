/* osc.h: figures as messages for show control, by the Open Sound Control 1.0 specification: over
 * UDP, a message a figure, /ringtally/NAME with one argument. For cmd_drop.c. */
#ifndef RINGTALLY_CLI_OSC_H
#define RINGTALLY_CLI_OSC_H

#include <stddef.h>
#include <stdint.h>

#include "ringtally/base/error.h"

#define OSC_MAX 1024 /* bytes of a message */

/* One message: a whole number goes as an int32, all else as a string. Its size, a multiple of 4; 0:
 * it does not fit. */
size_t osc_message(unsigned char out[OSC_MAX], const char *name, const char *text);

/* "HOST:PORT" as a socket that sends there. */
int osc_open(int *fd, const char *where, struct error *err);
/* What is not heard, nobody misses: UDP tells of no loss. */
void osc_send(int fd, const char *name, const char *text);

#endif
