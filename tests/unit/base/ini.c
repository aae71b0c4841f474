#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <string.h>

#include <cmocka.h>

#include "ringtally/base/buf.h"
#include "ringtally/base/ini.h"

/* Writes "LINE section.key=value;" for each visit; fails at the key "stop". */
static int note(void *user, const char *section, const char *key, const char *value,
                const struct ini_place *place, struct error *err)
{
    struct buf *seen = user;
    if (strcmp(key, "stop") == 0) {
        return ini_fail(place, err, "%s: not here", key);
    }
    buf_addf(seen, "%d %s.%s=%s;", place->line, section, key, value);
    return 0;
}

static int read_text(struct buf *seen, const char *text, struct error *err)
{
    return ini_read(text, strlen(text), "card.ini", note, seen, err);
}

static void ini_read__forms__visited_with_lines(void **state)
{
    (void)state;
    static const struct {
        const char *text, *seen;
    } cases[] = {
        {"", ""},
        {"a = 1\n", "1 .a=1;"},
        {"[s]\na = 1\nb=2", "2 s.a=1;3 s.b=2;"},
        {"; note\n# note\n\n[s]\r\na = x y \r\n", "5 s.a=x y;"},
        {"\xef\xbb\xbf[s]\na = Ó\n", "2 s.a=Ó;"},
        {"[s]\na = 1 ; note\n", "2 s.a=1;"},
        {"[s]\na =\n", "2 s.a=;"},
    };
    for (size_t i = 0; i < sizeof cases / sizeof *cases; i++) {
        struct buf seen = BUF_INIT;
        struct error err = {0};
        assert_int_equal(read_text(&seen, cases[i].text, &err), 0);
        assert_string_equal(seen.text ? seen.text : "", cases[i].seen);
        buf_release(&seen);
    }
}

static void ini_read__bad__first_error_named(void **state)
{
    (void)state;
    char long_line[400] = "a = 1\nb = ";
    memset(long_line + strlen(long_line), 'x', 200);
    const struct {
        const char *text, *message;
    } cases[] = {
        {"a = 1\nnonsense\n", "card.ini:2: neither [section] nor key = value"},
        {"[open\n", "card.ini:1: neither [section] nor key = value"},
        {"a = 1\nstop = 1\nc = 2\n", "card.ini:2: stop: not here"},
        {"nonsense\nstop = 1\n", "card.ini:1: neither [section] nor key = value"},
        {"stop = 1\nnonsense\n", "card.ini:1: stop: not here"},
        {"nonsense\n\xff\n", "card.ini:1: neither [section] nor key = value"},
        {"a = \xff\n", "card.ini:1: this line is not valid UTF-8 text"},
        {long_line, "card.ini:2: a line longer than 190 bytes"},
    };
    for (size_t i = 0; i < sizeof cases / sizeof *cases; i++) {
        struct buf seen = BUF_INIT;
        struct error err = {0};
        assert_int_equal(read_text(&seen, cases[i].text, &err), ERROR_FAILED);
        assert_string_equal(err.text, cases[i].message);
        buf_release(&seen);
    }
}

static void ini_read__nul_byte__refused(void **state)
{
    (void)state;
    static const char text[] = "a = 1\nb = x\0y\n";
    struct buf seen = BUF_INIT;
    struct error err = {0};
    assert_int_equal(ini_read(text, sizeof text - 1, "card.ini", note, &seen, &err), ERROR_FAILED);
    assert_string_equal(err.text, "card.ini:2: this line is not valid UTF-8 text");
    buf_release(&seen);
}

static void ini_read__line_of_190_bytes__taken(void **state)
{
    (void)state;
    char text[192] = "a = ";
    memset(text + 4, 'x', 185);
    text[189] = '\n';
    struct buf seen = BUF_INIT;
    struct error err = {0};
    assert_int_equal(read_text(&seen, text, &err), 0);
    assert_int_equal(strlen(seen.text), strlen("1 .a=;") + 185);
    buf_release(&seen);
}

static void ini_int__range__checked(void **state)
{
    (void)state;
    const struct ini_place place = {"rules.ini", 7};
    static const char *const bad[] = {"",    "x", "3x", "0", "21", "99999999999999999999",
                                      "3.5", "-1"};
    int out = 0;
    struct error err = {0};
    assert_int_equal(ini_int(&out, "rounds", "3", 1, 20, &place, &err), 0);
    assert_int_equal(out, 3);
    for (size_t i = 0; i < sizeof bad / sizeof *bad; i++) {
        char message[128];
        struct error why = {0};
        assert_int_equal(ini_int(&out, "rounds", bad[i], 1, 20, &place, &why), ERROR_FAILED);
        snprintf(message, sizeof message,
                 "rules.ini:7: rounds = %s: a whole number from 1 to 20 is needed", bad[i]);
        assert_string_equal(why.text, message);
        assert_int_equal(out, 3);
    }
}

static void ini_text__length__checked(void **state)
{
    (void)state;
    const struct ini_place place = {"card.ini", 4};
    char out[6];
    struct error err = {0};
    assert_int_equal(ini_text(out, sizeof out, "title", " 12345 ", &place, &err), 0);
    assert_string_equal(out, "12345");
    assert_int_equal(ini_text(out, sizeof out, "title", "123456", &place, &err), ERROR_FAILED);
    assert_string_equal(err.text, "card.ini:4: title: longer than 5 bytes");
    struct error empty = {0};
    assert_int_equal(ini_text(out, sizeof out, "title", " \x01 ", &place, &empty), ERROR_FAILED);
    assert_string_equal(empty.text, "card.ini:4: title: empty");
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(ini_read__forms__visited_with_lines),
        cmocka_unit_test(ini_read__bad__first_error_named),
        cmocka_unit_test(ini_read__nul_byte__refused),
        cmocka_unit_test(ini_read__line_of_190_bytes__taken),
        cmocka_unit_test(ini_int__range__checked),
        cmocka_unit_test(ini_text__length__checked),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
