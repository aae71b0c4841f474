/* gate_json.h: the producer's gate as every live document has it. Private to the room. */
#ifndef RINGTALLY_SHEET_GATE_JSON_H
#define RINGTALLY_SHEET_GATE_JSON_H

#include <jansson.h>

#include "ringtally/tally/gate.h"

/* {"holds": ["knockdowns"], "waiting": {"knockdowns": 1}, "delay_s": 5}; null without a gate. NULL:
 * out of memory. */
json_t *gate_object(const struct gate_state *gate);

#endif
