/* gate_json.c: what is held, and how late all is. Not what it is, nor whose: that is what is held.
 */
#include "sheet/gate_json.h"

#include "ringtally/base/tree.h"

json_t *gate_object(const struct gate_state *gate)
{
    if (!gate) {
        return json_null();
    }
    bool failed = false;
    json_t *holds = json_array();
    json_t *waiting = json_object();
    for (int kind = 0; kind < GATE_KINDS; kind++) {
        if (gate->holds >> kind & 1) {
            tree_add(holds, json_string(gate_kind_names[kind]), &failed);
            tree_set(waiting, gate_kind_names[kind], json_integer(gate->waiting[kind]), &failed);
        }
    }
    json_t *object = json_pack("{s:o, s:o, s:f}", "holds", holds, "waiting", waiting, "delay_s",
                               (double)gate->delay_ms / 1000.0);
    if (failed) {
        json_decref(object);
        return NULL;
    }
    return object;
}
