#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <string.h>

#include <cmocka.h>

#include "ringtally/base/buf.h"
#include "ringtally/base/embedded.h"

static void buf_add__pieces__joined(void **state)
{
    (void)state;
    struct buf buf = BUF_INIT;
    buf_adds(&buf, "landed ");
    buf_addf(&buf, "%d/%d", 61, 143);
    buf_add(&buf, " of them", 3);
    assert_string_equal(buf.text, "landed 61/143 of");
    assert_int_equal(buf.size, strlen(buf.text));
    buf_release(&buf);
    assert_null(buf.text);
    assert_int_equal(buf.size, 0);
}

static void buf_addf__beyond_the_first_room__whole(void **state)
{
    (void)state;
    struct buf buf = BUF_INIT;
    for (int i = 0; i < 1000; i++) {
        buf_addf(&buf, "%04d,", i);
    }
    assert_int_equal(buf.size, 5000);
    assert_string_equal(buf.text + 4995, "0999,");
    assert_memory_equal(buf.text + 255, "0051,", 5); /* where the first room ended */
    buf_release(&buf);
}

static void buf_add_fit__widths__columns(void **state)
{
    (void)state;
    struct buf buf = BUF_INIT;
    buf_add_fit(&buf, "李小明", 8);
    buf_adds(&buf, "|");
    buf_add_fit(&buf, "Óskarsdóttir", -6);
    buf_adds(&buf, "|");
    buf_add_fit(&buf, "7", -3);
    buf_add_fit(&buf, "", 2);
    assert_string_equal(buf.text, "李小明  |Óskar…|  7  ");
    assert_int_equal(buf.size, strlen(buf.text));
    buf_release(&buf);
}

static void buf_add_wrapped__sentence__breaks_at_blanks(void **state)
{
    (void)state;
    struct buf buf = BUF_INIT;
    buf_adds(&buf, "  ");
    buf_add_wrapped(&buf, "one two abcd \303\251\303\251\303\251 unbreakable end", 2, 10);
    assert_string_equal(buf.text, "  one two\n  abcd \303\251\303\251"
                                  "\303\251\n  unbreakable\n  end\n");
    buf_release(&buf);
}

static void buf_add__failed__sticks(void **state)
{
    (void)state;
    struct buf buf = BUF_INIT;
    buf_adds(&buf, "kept");
    buf.failed = true;
    buf_adds(&buf, "lost");
    buf_addf(&buf, "%d", 1);
    buf_add_fit(&buf, "lost", 9);
    assert_string_equal(buf.text, "kept");
    assert_true(buf.failed);
    buf_release(&buf);
    assert_false(buf.failed);
}

static void embedded_find__rules__there_and_terminated(void **state)
{
    (void)state;
    const struct embedded *file = embedded_find("rules/kickboxing.ini");
    assert_non_null(file);
    assert_int_equal(strlen(file->data), file->size);
    assert_non_null(strstr(file->data, "id = kickboxing"));
    assert_null(embedded_find("rules/none.ini"));
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(buf_add__pieces__joined),
        cmocka_unit_test(buf_addf__beyond_the_first_room__whole),
        cmocka_unit_test(buf_add_fit__widths__columns),
        cmocka_unit_test(buf_add_wrapped__sentence__breaks_at_blanks),
        cmocka_unit_test(buf_add__failed__sticks),
        cmocka_unit_test(embedded_find__rules__there_and_terminated),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
