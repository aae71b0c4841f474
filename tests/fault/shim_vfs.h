/* shim_vfs.h: a disk that fails or stalls when it is told to.
 *
 * Sits on SQLite's default VFS under the name SHIM_VFS. Real syncs are skipped: they would take
 * minutes. (What a power loss leaves: tests/power.)
 */
#ifndef SHIM_VFS_H
#define SHIM_VFS_H

#include <stdbool.h>
#include <stdint.h>

#define SHIM_VFS "shim"

enum shim_call { SHIM_OPEN, SHIM_READ, SHIM_WRITE, SHIM_SYNC, SHIM_TRUNCATE, SHIM_LOCK, SHIM_MAP };
#define SHIM_CALLS 7
extern const char *const shim_call_names[SHIM_CALLS];

/* Once, before anything is opened. */
void shim_register(void);

/* From now on the nth such call fails with the SQLite result; `lasting`: all later ones too. A
 * failing write leaves half of itself behind. */
void shim_fail(enum shim_call call, int nth, int result, bool lasting);
/* No more failures. True where one happened since shim_fail. */
bool shim_heal(void);

/* While stalled, syncs do not return. */
void shim_stall(bool stalled);
/* Syncs that wait in the stall now. */
int shim_stalled(void);

#endif
