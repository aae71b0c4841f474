/* foreign.h: tells the memory sanitizer what a library wrote that is not built for it; elsewhere
 * nothing. For src/base only. */
#ifndef RINGTALLY_BASE_FOREIGN_H
#define RINGTALLY_BASE_FOREIGN_H

#if defined(__has_feature)
#if __has_feature(memory_sanitizer)
#include <sanitizer/msan_interface.h>
#define foreign_text(text)         __msan_unpoison_string(text)
#define foreign_bytes(bytes, size) __msan_unpoison(bytes, size)
#endif
#endif
#ifndef foreign_text
#define foreign_text(text)         (void)(text)
#define foreign_bytes(bytes, size) ((void)(bytes), (void)(size))
#endif

#endif
