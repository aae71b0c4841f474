/* json_tree.c: JSON documents that cannot be made say so once, and name what may be wrong. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <string.h>

#include <cmocka.h>
#include <jansson.h>

#include "ringtally/base/tree.h"

static void tree_write__document__one_line(void **state)
{
    (void)state;
    struct buf out = BUF_INIT;
    struct error err = {0};
    bool failed = false;
    json_t *root = json_object();
    json_t *list = json_array();
    tree_add(list, json_integer(7), &failed);
    tree_set(root, "landed", list, &failed);
    assert_int_equal(tree_write(&out, root, failed, JSON_COMPACT, &err), 0);
    assert_string_equal(out.text, "{\"landed\":[7]}\n");
    buf_release(&out);
}

static void tree_write__text_not_utf8__is_named(void **state)
{
    (void)state;
    struct buf out = BUF_INIT;
    struct error err = {0};
    bool failed = false;
    json_t *root = json_object();
    tree_set(root, "name", json_string("\xc3("), &failed);
    assert_true(failed);
    tree_set(root, "rounds", json_integer(3), &failed);
    assert_true(failed);
    assert_int_equal(tree_write(&out, root, failed, JSON_COMPACT, &err), ERROR_MEMORY);
    assert_non_null(strstr(err.text, "UTF-8"));
    assert_true(out.failed);
    assert_null(out.text);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(tree_write__document__one_line),
        cmocka_unit_test(tree_write__text_not_utf8__is_named),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
