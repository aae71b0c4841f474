#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

#include "ringtally/bout/card.h"
#include "ringtally/base/file.h"
#include "ringtally/base/text.h"

#define HEAD "[card]\nid = night-1\ntitle = Night\ndate = 2026-02-28\n"
#define BOUT "[bout 1]\nrules = boxing\nred.name = Ana Lume\nblue.name = Bo Reef\n"

static void parse_fails(const char *text, const char *message)
{
    struct card card = {0};
    struct error err = {0};
    assert_int_equal(card_parse(&card, text, strlen(text), "c.ini", &err), ERROR_FAILED);
    assert_string_equal(err.text, message);
    assert_null(card.bout);
}

static void card_parse__example__has_every_field(void **state)
{
    (void)state;
    struct error err = {0};
    struct card card = {0};
    char *text = NULL;
    size_t size = 0;
    assert_int_equal(file_read(&text, &size, SOURCE_DIR "/examples/card.ini", &err), 0);
    assert_int_equal(card_parse(&card, text, size, "card.ini", &err), 0);
    assert_string_equal(card.id, "saltglass-4");
    assert_string_equal(card.date, "2026-12-05");
    assert_true(card.bouts >= 6);
    const struct bout *bout = &card.bout[0];
    assert_string_equal(bout->card, "saltglass-4");
    assert_int_equal(bout->number, 1);
    assert_true(bout->line > 5);
    assert_string_equal(bout->rules, "kickboxing");
    assert_int_equal(bout->rounds, 0);
    assert_int_equal(bout->judges, 3);
    assert_string_equal(bout->judge[1], "Baptiste Corvellec");
    assert_string_equal(bout->fighter[CORNER_RED].name, "Maëlle Kervadenn");
    assert_string_equal(bout->fighter[CORNER_RED].short_name, "Kervadenn");
    assert_string_equal(bout->fighter[CORNER_BLUE].record, "9-1-1");
    assert_int_equal(card.bout[1].fighter[CORNER_BLUE].stance, STANCE_SOUTHPAW);
    for (int i = 0; i < card.bouts; i++) {
        assert_true(text_width(card.bout[i].fighter[CORNER_RED].short_name) <= 12);
    }
    card_release(&card);
    free(text);
}

static void card_parse__bad_text__names_file_line_and_reason(void **state)
{
    (void)state;
    parse_fails("[card]\nid = a b\n",
                "c.ini:2: id = a b: letters, digits, '-', '_' and '.' make an id, at most 47");
    parse_fails("[card]\ndate = 2026-02-29\n",
                "c.ini:2: date = 2026-02-29: a day as YYYY-MM-DD is needed");
    parse_fails("[card]\ncity = X\n",
                "c.ini:2: [card] knows no city: it knows id, title, date, venue");
    parse_fails("[card]\nid = a\nid = b\n", "c.ini:3: id is there twice");
    parse_fails(HEAD, "c.ini: a card needs a [bout 1]");
    parse_fails("[bout 0]\nweight = x\n",
                "c.ini:2: [bout 0]: [card] or [bout 1] to [bout 999] is needed");
    parse_fails(HEAD "[bout 1]\nreferee = R\n",
                "c.ini:6: bout 1: rules, red.name, blue.name are missing");
    parse_fails(HEAD "[bout 1]\nrules = a/b\n",
                "c.ini:6: rules = a/b: letters, digits, '-', '_' and '.' name a rule set");
    parse_fails(HEAD "[bout 1]\nred.stance = left\n",
                "c.ini:6: red.stance = left: orthodox, southpaw or square is needed");
    parse_fails(HEAD "[bout 1]\nrounds = 21\n",
                "c.ini:6: rounds = 21: a whole number from 1 to 20, or nothing (as the rules say)");
    parse_fails(HEAD "[bout 1]\nred.short = Wonderfully Long\n",
                "c.ini:6: red.short = Wonderfully Long: wider than 12 columns");
    parse_fails(HEAD BOUT "red.name = X\n", "c.ini:9: red.name is there twice");
    parse_fails(HEAD BOUT "[bout 2]\nrules = sanda\n[bout 1]\nreferee = R\n",
                "c.ini:10: bout 2: red.name, blue.name are missing");
    parse_fails(HEAD BOUT "[bout 2]\nrules = sanda\nred.name = X\nblue.name = Y\n[bout 1]\n"
                          "referee = R\n",
                "c.ini:14: [bout 1] is there twice");
    parse_fails(HEAD BOUT "[card]\nvenue = V\n", "c.ini:10: [card] comes first, and once");
    parse_fails(HEAD "[bout 1]\nrules = boxing\nred.name = X\nblue.name = X\n",
                "c.ini:6: bout 1: both corners are X");
    parse_fails(HEAD BOUT "nonsense\n", "c.ini:9: neither [section] nor key = value");
    parse_fails("", "c.ini: a card needs an id in [card]");
}

static void card_parse_all__many_faults__names_each_once_and_the_keys(void **state)
{
    (void)state;
    const char *text = "[card]\nid = a b\ntown = X\n[bout 1]\nred = Ana\nblue = Bo\nrounds = many\n"
                       "red.name = Ana\nnonsense\n[bouts 2]\nrules = boxing\nred.name = A\n"
                       "[bout 3]\nrules = boxing\nred.name = A\nblue.name = B\n"
                       "[bout 3]\nrules = boxing\n[card]\nvenue = Here\nred.stance = up\n"
                       "[bout 4]\nred.stance = up\nred.name = A\nblue.name = B\nrules = boxing\n";
    struct card card = {0};
    struct error err = {0};
    struct buf faults = BUF_INIT;
    assert_int_equal(card_parse_all(&card, text, strlen(text), "c.ini", &faults, &err), 0);
    assert_string_equal(
        faults.text,
        "c.ini:2: id = a b: letters, digits, '-', '_' and '.' make an id, at most 47\n"
        "c.ini:3: [card] knows no town: it knows id, title, date, venue\n"
        "c.ini:5: a bout knows no red: it knows weight, rules, rounds, terms, red.name, red.short, "
        "red.stance, red.from, red.record, blue.name, blue.short, blue.stance, blue.from, "
        "blue.record, referee, judges\n"
        "c.ini:6: a bout knows no blue\n"
        "c.ini:7: rounds = many: a whole number from 1 to 20, or nothing (as the rules say)\n"
        "c.ini:9: neither [section] nor key = value\n"
        "c.ini:11: [bouts 2]: [card] or [bout 1] to [bout 999] is needed\n"
        "c.ini:5: bout 1: rules, blue.name are missing\n"
        "c.ini:18: rules is there twice\n"
        "c.ini:20: [card] comes first, and once\n"
        "c.ini:23: red.stance = up: orthodox, southpaw or square is needed\n"
        "c.ini: a card needs an id in [card]\n"
        "c.ini: a card needs a title in [card]\n"
        "c.ini: a card needs a date in [card]\n");
    buf_release(&faults);
    card_release(&card);
}

static void card_parse__judges_on_two_lines__are_added_up(void **state)
{
    (void)state;
    const char *text = HEAD BOUT "judges = A, B\njudges = C,\n";
    struct card card = {0};
    assert_int_equal(card_parse(&card, text, strlen(text), "c.ini", NULL), 0);
    assert_int_equal(card.bout[0].judges, 3);
    assert_string_equal(card.bout[0].judge[2], "C");
    card_release(&card);
    parse_fails(HEAD BOUT "judges = A, B, C, D, E, F, G, H\n", "c.ini:9: judges: more than 7");
}

static void card_parse__control_characters__are_dropped(void **state)
{
    (void)state;
    const char *text = HEAD "[bout 1]\nrules = boxing\nred.name = A\033[31mna\nblue.name = B\n";
    struct card card = {0};
    assert_int_equal(card_parse(&card, text, strlen(text), "c.ini", NULL), 0);
    assert_string_equal(card.bout[0].fighter[CORNER_RED].name, "A[31mna");
    card_release(&card);
}

static void bout_set__every_field__reads_back(void **state)
{
    (void)state;
    static const char *const values[] = {"+91 kg",   "sanda",   "5",      "scoring.open = yes",
                                         "Ana Lume", "Lume",    "square", "Quay",
                                         "1-2-3",    "Bo Reef", "Reef",   "southpaw",
                                         "Cape",     "0-0-0",   "Ref",    "A, B, C"};
    struct bout bout = {.number = 1};
    char text[256] = "";
    for (int i = 0; bout_fields[i]; i++) {
        assert_int_equal(bout_set(&bout, bout_fields[i], values[i], NULL), 0);
        assert_true(bout_get(&bout, bout_fields[i], text, sizeof text));
        assert_string_equal(text, values[i]);
    }
    assert_int_equal(bout_check(&bout, NULL), 0);
    assert_int_equal(bout_set(&bout, "rounds", "", NULL), 0);
    assert_int_equal(bout.rounds, 0);
    assert_false(bout_get(&bout, "colour", text, sizeof text));
    assert_int_equal(bout_set(&bout, "colour", "x", NULL), ERROR_FAILED);
}

static void short_name__names_of_the_world__are_what_people_are_called(void **state)
{
    (void)state;
    static const struct {
        const char *name, *is;
    } cases[] = {
        {"Robert Smith", "Robert Smith"},
        {"Robert Smith Jr.", "Smith Jr."},
        {"Robert Smith-Jones, Jr.", "Smith-Jones"},
        {"Bartholomew Okonkwo III", "Okonkwo III"},
        {"Bartholomew Okonkwo the Third", "Okonkwo"},
        {"Ada Lovegrove the Second", "Lovegrove"},
        {"Sigurd Vestergaardshaugen Jr.", "Vestergaard\u2026"},
        {"Jr. Okonkwo Bartholomew", "Bartholomew"},
        {"The Unspeakable Third", "Third"}, /* "the" is no suffix without the ordinal beside it */
        {"\u0e14\u0e27\u0e07\u0e41\u0e01\u0e49\u0e27 "
         "\u0e28\u0e34\u0e29\u0e22\u0e4c\u0e04\u0e23\u0e39\u0e40\u0e1e\u0e25\u0e34\u0e19\u0e17"
         "\u0e30"
         "\u0e40\u0e25",
         "\u0e14\u0e27\u0e07\u0e41\u0e01\u0e49\u0e27"},
        {"\u53f8\u5f92 \u6f9c\u821f (Situ Lanzhou)", "\u53f8\u5f92 \u6f9c\u821f"},
        {"Bartholomew Okonkwo (the Old Oak)", "Okonkwo"},
        {"(Bartholomew Okonkwo)", "(Bartholome\u2026"},
        {"Bartholomew (never closed Okonkwo", "Bartholomew"},
        {"", ""},
    };
    for (size_t i = 0; i < sizeof cases / sizeof *cases; i++) {
        struct fighter fighter;
        short_name(fighter.short_name, sizeof fighter.short_name, cases[i].name);
        assert_string_equal(fighter.short_name, cases[i].is);
        assert_true(text_width(fighter.short_name) <= SHORT_COLUMNS);
    }
}

/* Letters of a column, a vowel and a tone mark each: twelve of them are 108 bytes. */
static void short_name__marks_on_every_letter__is_never_empty(void **state)
{
    (void)state;
    struct bout bout = {.number = 1};
    char name[96] = "";
    for (int i = 0; i < 10; i++) {
        strcat(name, "\u0e17\u0e35\u0e48");
    }
    strcat(name, "ab");
    assert_int_equal(bout_set(&bout, "red.name", name, NULL), 0);
    assert_string_equal(bout.fighter[CORNER_RED].short_name, name);
    char again[128];
    bout_get(&bout, "red.short", again, sizeof again);
    assert_int_equal(bout_set(&bout, "red.short", again, NULL), 0);
}

static void bout_set__name__brings_its_short_name_along(void **state)
{
    (void)state;
    struct bout bout = {0};
    const char *red = bout.fighter[CORNER_RED].short_name;
    assert_int_equal(bout_set(&bout, "red.name", "Maximiliana Overlongname", NULL), 0);
    assert_string_equal(red, "Overlongname");
    assert_int_equal(bout_set(&bout, "red.name", "Ana Lume", NULL), 0);
    assert_string_equal(red, "Ana Lume");
    assert_int_equal(bout_set(&bout, "red.short", "LUME", NULL), 0);
    assert_int_equal(bout_set(&bout, "red.name", "Ana Lumen", NULL), 0);
    assert_string_equal(red, "LUME");
    assert_int_equal(bout_set(&bout, "red.short", "", NULL), 0);
    assert_string_equal(red, "Ana Lumen");
    assert_int_equal(bout_set(&bout, "red.name", "Abcdefghijklmnopqrst", NULL), 0);
    assert_int_equal(text_width(red), 12);
}

static void bout_ref_parse__both_forms__are_read(void **state)
{
    (void)state;
    char card[48] = "";
    int number = 0;
    assert_int_equal(bout_ref_parse(card, &number, "night-1/12", NULL), 0);
    assert_string_equal(card, "night-1");
    assert_int_equal(number, 12);
    assert_int_equal(bout_ref_parse(card, &number, "7", NULL), 0);
    assert_string_equal(card, "");
    assert_int_equal(number, 7);
    static const char *const bad[] = {"",  "/1", "a/",    "a/0",   "a/1000", "a/1x",
                                      "x", "-1", "a b/1", "a/b/1", "+1",     " 1"};
    for (size_t i = 0; i < sizeof bad / sizeof bad[0]; i++) {
        assert_int_equal(bout_ref_parse(card, &number, bad[i], NULL), ERROR_USAGE);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(card_parse__example__has_every_field),
        cmocka_unit_test(card_parse__bad_text__names_file_line_and_reason),
        cmocka_unit_test(card_parse_all__many_faults__names_each_once_and_the_keys),
        cmocka_unit_test(card_parse__judges_on_two_lines__are_added_up),
        cmocka_unit_test(card_parse__control_characters__are_dropped),
        cmocka_unit_test(bout_set__every_field__reads_back),
        cmocka_unit_test(short_name__names_of_the_world__are_what_people_are_called),
        cmocka_unit_test(short_name__marks_on_every_letter__is_never_empty),
        cmocka_unit_test(bout_set__name__brings_its_short_name_along),
        cmocka_unit_test(bout_ref_parse__both_forms__are_read),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
