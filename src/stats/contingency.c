/* contingency.c: two-by-two tables: Fisher exact. */
#include "ringtally/stats/contingency.h"

#include <math.h>

#include "ringtally/stats/interval.h"

/* Probabilities below this, beside that of the likeliest table, count as 0. Further down a double
 * stops shrinking (the least one, times .9, is rounded back to itself) and the walk would not end.
 */
#define LEAST_WEIGHT 1e-300

static bool valid(int64_t a, int64_t b, int64_t c, int64_t d)
{
    const int64_t max = INTERVAL_COUNT_MAX;

    return a >= 0 && b >= 0 && c >= 0 && d >= 0 && a <= max && b <= max && c <= max && d <= max &&
           a + b + c + d >= 1 && a + b + c + d <= max;
}

/* P(x + 1) / P(x) of the hypergeometric distribution with these margins. */
static double step_up(double x, double row, double column, double total)
{
    return (row - x) * (column - x) / ((x + 1.0) * (total - row - column + x + 1.0));
}

/* Probabilities are walked from the mode outwards as multiples of its own and divided by their sum
 * at the end: no factorials, hence nothing to lose digits. */
struct fisher contingency_fisher(int64_t a, int64_t b, int64_t c, int64_t d)
{
    struct fisher f = {.defined = false};

    if (!valid(a, b, c, d))
        return f;
    const double total = (double)(a + b + c + d);
    const double row = (double)(a + b), column = (double)(a + c);
    const double seen = (double)a;
    const double least = fmax(0.0, row + column - total), most = fmin(row, column);
    const double mode =
        fmin(most, fmax(least, floor((row + 1.0) * (column + 1.0) / (total + 2.0))));

    double sum = 0.0, greater = 0.0, last = 0.0;
    for (int direction = 1; direction >= -1; direction -= 2) {
        double weight = 1.0;
        double x = mode;
        if (direction < 0) {
            if (mode <= least)
                break;
            weight /= step_up(mode - 1.0, row, column, total);
            x = mode - 1.0;
        }
        while (weight >= LEAST_WEIGHT) {
            sum += weight;
            if (x >= seen)
                greater += weight;
            if (x >= most)
                last = weight;
            if (direction > 0 ? x >= most : x <= least)
                break;
            if (direction > 0)
                weight *= step_up(x, row, column, total);
            else
                weight /= step_up(x - 1.0, row, column, total);
            x += direction;
        }
    }
    f.defined = true;
    f.greater = fmin(1.0, greater / sum);
    f.least = fmin(1.0, last / sum);
    return f;
}

double contingency_reach(int64_t a, int64_t b, int64_t c, int64_t d, double least, double p)
{
    const double total = (double)(a + b + c + d);
    const double row = (double)(a + b), column = (double)(a + c);
    double x = fmin(row, column), weight = least, sum = 0.0;

    if (!valid(a, b, c, d))
        return 0.0;
    while (sum + weight <= p && x > fmax(0.0, row + column - total)) {
        sum += weight;
        x -= 1.0;
        weight /= step_up(x, row, column, total);
    }
    return sum + weight <= p ? 1.0 : sum;
}

bool contingency_yule_q(double *out, int64_t a, int64_t b, int64_t c, int64_t d)
{
    *out = 0.0;
    if (!valid(a, b, c, d))
        return false;
    const double with = (double)a * (double)d, against = (double)b * (double)c;
    if (with + against <= 0.0)
        return false;
    *out = (with - against) / (with + against);
    return true;
}
