/* table.c: one line a measure. */
#include "table.h"

#include <stdio.h>

static const char *verdict(double value, double target)
{
    return target <= 0 ? "" : value <= target ? "reached" : "MISSED";
}

void table_title(const char *title)
{
    printf("\n%-44s %10s %10s %7s %9s\n", title, "measured", "floor", "ratio", "target");
}

void table_ratio(const char *what, const char *unit, double value, double floor, double target)
{
    char limit[16] = "";
    double ratio = floor > 0 ? value / floor : 0;
    if (target > 0) {
        snprintf(limit, sizeof limit, "<= %.4gx", target);
    }
    printf("%-38s %5s %10.3f %10.3f %6.2fx %9s  %s\n", what, unit, value, floor, ratio, limit,
           verdict(ratio, target));
    fflush(stdout);
}

void table_limit(const char *what, const char *unit, double value, double target)
{
    char limit[16] = "";
    if (target > 0) {
        snprintf(limit, sizeof limit, "<= %g", target);
    }
    printf("%-38s %5s %10.3f %10s %7s %9s  %s\n", what, unit, value, "", "", limit,
           verdict(value, target));
    fflush(stdout);
}

void table_plain(const char *what, const char *unit, double value)
{
    printf("%-38s %5s %10.3f\n", what, unit, value);
    fflush(stdout);
}
