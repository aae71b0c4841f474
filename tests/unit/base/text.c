#include <locale.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdlib.h>
#include <string.h>
#include <wchar.h>

#include <cmocka.h>

#include "ringtally/base/error.h"
#include "ringtally/base/text.h"

static void text_clean__names__kept(void **state)
{
    (void)state;
    static const char *const names[] = {"Ana Óskarsdóttir", "Ольга Ветрова", "李小明", "한솔찬",
                                        "สมชาย ใจดี",        "राजेश कुमार",     "محمد"};
    char out[96];
    for (size_t i = 0; i < sizeof names / sizeof *names; i++) {
        assert_true(text_clean(out, sizeof out, names[i]));
        assert_string_equal(out, names[i]);
    }
}

static void text_clean__hostile__removed(void **state)
{
    (void)state;
    static const struct {
        const char *in, *out;
    } cases[] = {
        {"  Ana \t  Ferro  ", "Ana Ferro"},
        {"Ana\x1b[31m", "Ana[31m"},
        {"a\nb\rc\x7f", "abc"},
        {"C1 \xc2\x9b"
         "2J",
         "C1 2J"}, /* U+009B, an 8-bit control sequence */
        {"evil\xe2\x80\xae"
         "gnp",
         "evilgnp"},                            /* U+202E right-to-left override */
        {"zero\xe2\x80\x8bwidth", "zerowidth"}, /* U+200B */
        {"line\xe2\x80\xa8sep", "linesep"},     /* U+2028 */
        {"no\302\240break", "no break"},        /* U+00A0 */
        {"e\xcc\x81", "\xc3\xa9"},              /* composed: NFC */
        {"\xee\x80\x80private", "private"},     /* U+E000 */
        {"joiner \xe0\xa4\x95\xe2\x80\x8d", "joiner \xe0\xa4\x95\xe2\x80\x8d"},
        {"", ""},
        {" \t ", ""},
    };
    char out[64];
    for (size_t i = 0; i < sizeof cases / sizeof *cases; i++) {
        assert_true(text_clean(out, sizeof out, cases[i].in));
        assert_string_equal(out, cases[i].out);
    }
}

static void text_clean__does_not_fit__refused(void **state)
{
    (void)state;
    char out[6] = "old";
    assert_true(text_clean(out, sizeof out, "12345"));
    assert_string_equal(out, "12345");
    assert_false(text_clean(out, sizeof out, "123456"));
    assert_string_equal(out, "");
    assert_true(text_clean(out, sizeof out, "1234  "));
    assert_false(text_clean(out, sizeof out, "1234\xc3\xa9"));
}

static void text_is_utf8__malformed__refused(void **state)
{
    (void)state;
    /* Overlong, surrogate, beyond U+10FFFF, cut short, stray continuation: RFC 3629, section 3
     * [from memory]. */
    static const char *const bad[] = {"\xc0\xaf", "\xed\xa0\x80", "\xf4\x90\x80\x80", "\xe2\x82",
                                      "\x80",     "\xff",         "\xe0\x80\xaf good"};
    char out[32];
    for (size_t i = 0; i < sizeof bad / sizeof *bad; i++) {
        assert_false(text_is_utf8(bad[i], strlen(bad[i])));
        assert_false(text_clean(out, sizeof out, bad[i]));
    }
    assert_false(text_is_utf8("a\0b", 3));
    assert_true(text_is_utf8("\xf4\x8f\xbf\xbf", 4));
    assert_true(text_is_utf8("", 0));
}

/* Outside check: wcswidth of the C library, whose rule curses and terminals follow. */
static void text_width__scripts__as_wcswidth(void **state)
{
    (void)state;
    static const char *const texts[] = {"Ana Óskarsdóttir",
                                        "Νίκος",
                                        "Иван",
                                        "李小明",
                                        "田中 さくら",
                                        "한솔찬",
                                        "สมชาย ใจดี",
                                        "محمد",
                                        "דוד",
                                        "राजेश कुमार",
                                        "கமலா",
                                        "বাংলা",
                                        "ខ្មែរ",
                                        "e\314\201e",
                                        "ｆｕｌｌ",
                                        "",
                                        "한\xe1\x86\xab",
                                        "á̂x",
                                        "\xf0\x9f\xa5\x8a glove"};
    assert_non_null(setlocale(LC_CTYPE, "C.UTF-8"));
    for (size_t i = 0; i < sizeof texts / sizeof *texts; i++) {
        wchar_t wide[64];
        size_t size = mbstowcs(wide, texts[i], 64);
        assert_true(size < 64);
        assert_int_equal(text_width(texts[i]), wcswidth(wide, size));
    }
    setlocale(LC_CTYPE, "C");
}

static void text_fit__any_width__exact(void **state)
{
    (void)state;
    static const char *const texts[] = {
        "", "A", "Ana Ferro", "李小明", "राजेश कुमार", "한솔찬", "e\314\201e\314\201e\314\201"};
    char out[4 * 20 + 8];
    for (size_t i = 0; i < sizeof texts / sizeof *texts; i++) {
        for (int width = -20; width <= 20; width++) {
            size_t size = 4 * (size_t)abs(width) + 8;
            text_fit(out, size, texts[i], width, false);
            assert_true(text_is_utf8(out, strlen(out)));
            assert_int_equal(text_width(out), abs(width));
            if (text_width(texts[i]) <= abs(width)) {
                assert_non_null(strstr(out, texts[i]));
            }
        }
    }
}

static void text_fit__cut__marked_and_aligned(void **state)
{
    (void)state;
    static const struct {
        const char *in;
        int width;
        bool ascii;
        const char *out;
    } cases[] = {
        {"Ferro", 8, false, "Ferro   "},  {"Ferro", -8, false, "   Ferro"},
        {"Ferro", 5, false, "Ferro"},     {"Ferro", 4, false, "Fer…"},
        {"Ferro", 4, true, "Fer~"},       {"Ferro", -4, true, "Fer~"},
        {"Ferro", 1, false, "…"},         {"Ferro", 0, false, ""},
        {"李小明", 5, false, "李小…"},    {"李小明", 4, false, "李… "},
        {"李小明", -7, false, " 李小明"}, {"李小明", 1, false, "…"},
        {"कि राज", 2, false, "… "}, /* never between a letter and its vowel sign */
    };
    char out[64];
    for (size_t i = 0; i < sizeof cases / sizeof *cases; i++) {
        text_fit(out, sizeof out, cases[i].in, cases[i].width, cases[i].ascii);
        assert_string_equal(out, cases[i].out);
    }
}

static void text_fit__marks_heaped__width_kept_in_the_promised_room(void **state)
{
    (void)state;
    char heap[400] = "a";
    for (int i = 0; i < 30; i++) {
        strcat(heap, "\xcc\x81");
        strcat(heap, i % 4 == 3 ? "b" : "");
    }
    strcat(heap, "tail");
    for (int width = -12; width <= 12; width++) {
        size_t size = 4 * (size_t)abs(width) + 8;
        char *out =
            malloc(size); /* on the heap, so that the address sanitizer sees a step beyond */
        assert_non_null(out);
        text_fit(out, size, heap, width, false);
        assert_int_equal(text_width(out), abs(width));
        free(out);
    }
}

static void text_fit__tiny_room__terminated(void **state)
{
    (void)state;
    for (size_t size = 1; size < 12; size++) {
        char *out = malloc(size);
        assert_non_null(out);
        text_fit(out, size, "Óskarsdóttir", 9, false);
        assert_true(strlen(out) < size);
        free(out);
    }
}

static void text_grapheme__cells__one_spacing_character_each(void **state)
{
    (void)state;
    const char *at = "e\xcc\x82\xcc\x81"
                     "x李\xe0\xa4\x95\xe0\xa4\xbe"; /* e with two marks, x, 李, क, ा */
    static const struct {
        int width, count;
        int32_t first;
    } cells[] = {{1, 3, 'e'}, {1, 1, 'x'}, {2, 1, 0x674e}, {1, 1, 0x915}, {1, 1, 0x93e}};
    int32_t points[3];
    int count = 0;
    for (size_t i = 0; i < sizeof cells / sizeof *cells; i++) {
        assert_int_equal(text_grapheme(&at, points, 3, &count), cells[i].width);
        assert_int_equal(count, cells[i].count);
        assert_int_equal(points[0], cells[i].first);
    }
    assert_int_equal(text_grapheme(&at, points, 3, &count), -1);
}

static void text_grapheme__malformed__replacement_and_no_overrun(void **state)
{
    (void)state;
    const char *at = "a\xe2\x82";
    int32_t points[3];
    int count = 0;
    assert_int_equal(text_grapheme(&at, points, 3, &count), 1);
    assert_int_equal(points[0], 'a');
    assert_int_equal(text_grapheme(&at, points, 3, &count), 1);
    assert_int_equal(points[0], 0xfffd);
    assert_int_equal(text_grapheme(&at, points, 3, &count), 1);
    assert_int_equal(text_grapheme(&at, points, 3, &count), -1);
}

static void text_defuse__hostile__question_marks(void **state)
{
    (void)state;
    char text[] = "a\x1b[2J\xc2\x9b"
                  "b\xff"
                  "é\xe2\x80\xae";
    text_defuse(text);
    assert_string_equal(text, "a?[2J??b?é???");
}

static void error_set__first_message__stays(void **state)
{
    (void)state;
    struct error err = {0};
    assert_int_equal(error_set(&err, ERROR_FAILED, "%s:%d: bad \x1b", "card.ini", 3), ERROR_FAILED);
    assert_int_equal(error_set(&err, ERROR_USAGE, "later"), ERROR_USAGE);
    assert_int_equal(err.code, ERROR_FAILED);
    assert_string_equal(err.text, "card.ini:3: bad ?");
    assert_int_equal(error_memory(NULL), ERROR_MEMORY);
}

static void error_set__long_message__cut_and_still_utf8(void **state)
{
    (void)state;
    char name[700];
    for (size_t i = 0; i + 2 < sizeof name; i += 2) {
        memcpy(name + i, "é", 3);
    }
    struct error err = {0};
    error_set(&err, ERROR_FAILED, "x%s", name);
    assert_int_equal(strlen(err.text), sizeof err.text - 1);
    assert_true(text_is_utf8(err.text, strlen(err.text)));
    struct error odd = {0};
    error_set(&odd, ERROR_FAILED, "%s", name); /* cut in the middle of a character */
    assert_true(text_is_utf8(odd.text, strlen(odd.text)));
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(text_clean__names__kept),
        cmocka_unit_test(text_clean__hostile__removed),
        cmocka_unit_test(text_clean__does_not_fit__refused),
        cmocka_unit_test(text_is_utf8__malformed__refused),
        cmocka_unit_test(text_width__scripts__as_wcswidth),
        cmocka_unit_test(text_fit__any_width__exact),
        cmocka_unit_test(text_fit__cut__marked_and_aligned),
        cmocka_unit_test(text_fit__marks_heaped__width_kept_in_the_promised_room),
        cmocka_unit_test(text_fit__tiny_room__terminated),
        cmocka_unit_test(text_grapheme__cells__one_spacing_character_each),
        cmocka_unit_test(text_grapheme__malformed__replacement_and_no_overrun),
        cmocka_unit_test(text_defuse__hostile__question_marks),
        cmocka_unit_test(error_set__first_message__stays),
        cmocka_unit_test(error_set__long_message__cut_and_still_utf8),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
