/* near.h: comparing figures with known ones. */
#ifndef TEST_NEAR_H
#define TEST_NEAR_H

#include <math.h>
#include <stdio.h>

/* A figure the source does not print. */
#define NONE NAN

/* Names the row of the table that failed. */
#define assert_near(row, got, want, tolerance)                                                     \
    do {                                                                                           \
        const double near_got = (got), near_want = (want);                                         \
        if (!(fabs(near_got - near_want) <= (tolerance)))                                          \
            fail_msg("row %zu: %s is %.12g, not %.12g", (size_t)(row), #got, near_got, near_want); \
    } while (0)

/* Printed figures are compared unrounded, with a little more than half a unit of the last digit:
 * some of them sit on a rounding edge. */
#define assert_printed(row, got, printed, digits)                                                  \
    do {                                                                                           \
        if (!isnan(printed))                                                                       \
            assert_near(row, got, printed, 0.6 * pow(10.0, -(digits)));                            \
    } while (0)

#define ROWS(table) (sizeof(table) / sizeof(table)[0])

#endif
