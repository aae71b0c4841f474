/* expected.h: golden texts in expected/. RINGTALLY_WRITE_EXPECTED=1 writes them anew, for a look at
 * the difference. Included behind cmocka.h. */
#ifndef EXPECTED_H
#define EXPECTED_H

#include "ringtally/base/buf.h"
#include "ringtally/base/file.h"

static void check_golden(const struct buf *got, const char *name)
{
    char path[512];
    char *text = NULL;
    size_t size = 0;
    struct error err = {0};
    snprintf(path, sizeof path, "%s/tests/unit/sheet/expected/%s", SOURCE_DIR, name);
    if (getenv("RINGTALLY_WRITE_EXPECTED")) {
        assert_int_equal(file_write(path, got->text, got->size, &err), 0);
    }
    assert_int_equal(file_read(&text, &size, path, &err), 0);
    assert_string_equal(got->text, text);
    free(text);
}

#endif
