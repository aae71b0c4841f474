/* guided.c: libFuzzer's way in. RINGTALLY_FUZZ names the target. */
#include <stdint.h>
#include <stdlib.h>
#include <string.h>

#include "targets.h"

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size);

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size)
{
    static const struct fuzz_target *target;
    const char *name = getenv("RINGTALLY_FUZZ");
    if (!target) {
        for (target = fuzz_targets; target->name && strcmp(target->name, name ? name : "") != 0;) {
            target++;
        }
        if (!target->name) {
            fuzz_fail("RINGTALLY_FUZZ names no target", name ? name : "");
        }
    }
    target->run((const char *)data, size);
    return 0;
}
