#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include <arpa/inet.h>
#include <netinet/in.h>
#include <stdio.h>
#include <string.h>

#include "feed/guard.h"

static struct sockaddr_storage address_of(const char *text)
{
    struct sockaddr_storage out = {0};
    struct sockaddr_in four = {.sin_family = AF_INET};
    struct sockaddr_in6 six = {.sin6_family = AF_INET6};
    if (inet_pton(AF_INET, text, &four.sin_addr) == 1) {
        memcpy(&out, &four, sizeof four);
    } else {
        assert_int_equal(inet_pton(AF_INET6, text, &six.sin6_addr), 1);
        memcpy(&out, &six, sizeof six);
    }
    return out;
}

static bool allow(struct guard *guard, const char *text)
{
    struct sockaddr_storage address = address_of(text);
    return guard_allow(guard, (struct sockaddr *)&address);
}

static struct guard *new_guard(const char *token, int rate)
{
    struct guard *guard = NULL;
    struct error err = {0};
    assert_int_equal(guard_new(&guard, token, NULL, rate, &err), 0);
    return guard;
}

static void guard_same__texts__only_the_very_same(void **state)
{
    (void)state;
    assert_true(guard_same("secret", "secret"));
    static const char *const others[] = {"", "s", "secre", "secrets", "Secret", "secretsecret"};
    for (size_t i = 0; i < sizeof others / sizeof others[0]; i++) {
        assert_false(guard_same("secret", others[i]));
        assert_false(guard_same(others[i], "secret"));
    }
    assert_true(guard_same("", ""));
}

/* RFC 1122 3.2.1.3: 127/8; RFC 4291 2.5.3: ::1 (both from memory). */
static void guard_is_loopback__addresses__as_the_rfcs_say(void **state)
{
    (void)state;
    static const struct {
        const char *text;
        bool loopback;
    } cases[] = {{"127.0.0.1", true},
                 {"127.255.255.254", true},
                 {"126.255.255.255", false},
                 {"128.0.0.0", false},
                 {"0.0.0.0", false},
                 {"192.168.1.7", false},
                 {"::1", true},
                 {"::", false},
                 {"::2", false},
                 {"fe80::1", false},
                 {"::ffff:127.0.0.1", true},
                 {"::ffff:10.0.0.1", false}};
    for (size_t i = 0; i < sizeof cases / sizeof cases[0]; i++) {
        struct sockaddr_storage address = address_of(cases[i].text);
        assert_int_equal(guard_is_loopback((struct sockaddr *)&address), cases[i].loopback);
    }
}

static void guard_allow__one_address_asks_too_much__others_do_not_pay(void **state)
{
    (void)state;
    struct guard *guard = new_guard(NULL, 3);
    int allowed = 0;
    while (allow(guard, "192.0.2.1")) {
        allowed++;
        assert_true(allowed < 1000);
    }
    assert_true(allowed >= 6); /* two seconds' worth at once */
    assert_true(allow(guard, "192.0.2.2"));
    assert_false(allow(guard, "::ffff:192.0.2.1")); /* the same one */
    /* Of IPv6 a network of 64 bits is one address: a host has all of it to itself. */
    while (allow(guard, "2001:db8::1")) {
    }
    assert_false(allow(guard, "2001:db8::2"));
    assert_true(allow(guard, "2001:db8:0:1::1"));
    /* More addresses than are remembered: new ones still get in. */
    for (int i = 0; i < 2000; i++) {
        char text[32];
        snprintf(text, sizeof text, "198.51.%d.%d", i / 250, i % 250);
        assert_true(allow(guard, text));
    }
    guard_free(guard);
}

static bool admits(struct guard *guard, const char *authorization, const char *cookie)
{
    char who[GUARD_NAME_SIZE];
    return guard_admits(guard, authorization, cookie, who);
}

static bool enters(struct guard *guard, const char *link)
{
    char cookie[GUARD_TOKEN_SIZE];
    return guard_enter(guard, link, cookie, NULL);
}

static void guard_admits__token__by_header_or_cookie(void **state)
{
    (void)state;
    struct guard *guard = new_guard("a-token-of-length", 0);
    assert_true(admits(guard, "Bearer a-token-of-length", NULL));
    assert_true(admits(guard, "bearer a-token-of-length", NULL));
    assert_true(admits(guard, NULL, "a-token-of-length"));
    assert_false(admits(guard, NULL, NULL));
    assert_false(admits(guard, "a-token-of-length", NULL));
    assert_false(admits(guard, "Bearer  a-token-of-length", NULL));
    assert_false(admits(guard, "Bearer a-token-of-lengt", "a-token-of-lengthy"));
    /* A header that is wrong is not made good by a cookie. */
    assert_false(admits(guard, "Bearer x", "x"));
    guard_free(guard);
    guard = new_guard(NULL, 0);
    assert_true(admits(guard, NULL, NULL));
    guard_free(guard);
}

static void guard_enter__link__once(void **state)
{
    (void)state;
    char first[GUARD_LINK_SIZE], second[GUARD_LINK_SIZE];
    struct guard *guard = new_guard("a-token-of-length", 0);
    guard_link(guard, first);
    assert_int_equal(strlen(first), GUARD_LINK_SIZE - 1);
    assert_false(enters(guard, ""));
    assert_true(enters(guard, first));
    assert_false(enters(guard, first));
    guard_link(guard, second);
    assert_string_not_equal(first, second);
    assert_true(enters(guard, second));
    guard_free(guard);
    guard = new_guard(NULL, 0); /* nothing to let in to */
    guard_link(guard, first);
    assert_false(enters(guard, first));
    guard_free(guard);
}

static void guard_clients__streams_and_readers__each_counted_once(void **state)
{
    (void)state;
    int64_t read_ms = -1;
    struct guard *guard = new_guard(NULL, 0);
    struct sockaddr_storage tablet = address_of("192.0.2.1"), desk = address_of("192.0.2.2");
    assert_int_equal(guard_clients(guard, &read_ms), 0);
    assert_int_equal(read_ms, 0);
    guard_stream(guard, (struct sockaddr *)&tablet, 1);
    guard_stream(guard, (struct sockaddr *)&tablet, 1);
    guard_read(guard, (struct sockaddr *)&tablet);
    guard_read(guard, (struct sockaddr *)&desk);
    guard_read(guard, (struct sockaddr *)&desk);
    assert_int_equal(guard_clients(guard, &read_ms), 3);
    assert_true(read_ms > 0);
    guard_stream(guard, (struct sockaddr *)&tablet, -1);
    guard_stream(guard, (struct sockaddr *)&tablet, -1);
    guard_stream(guard, (struct sockaddr *)&tablet, -1);
    assert_int_equal(guard_clients(guard, &read_ms), 2);
    guard_free(guard);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(guard_same__texts__only_the_very_same),
        cmocka_unit_test(guard_is_loopback__addresses__as_the_rfcs_say),
        cmocka_unit_test(guard_allow__one_address_asks_too_much__others_do_not_pay),
        cmocka_unit_test(guard_admits__token__by_header_or_cookie),
        cmocka_unit_test(guard_enter__link__once),
        cmocka_unit_test(guard_clients__streams_and_readers__each_counted_once),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
