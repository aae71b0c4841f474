/* runs.c: the runs test. */
#include "ringtally/stats/runs.h"

#include <math.h>

#include "stats/special.h"

static double log_choose(int64_t n, int64_t k)
{
    return special_log_gamma((double)n + 1.0) - special_log_gamma((double)k + 1.0) -
           special_log_gamma((double)(n - k) + 1.0);
}

/* Ways to cut n things into k heaps, none empty, as a logarithm; -infinity where there is none. */
static double log_cuts(int64_t n, int64_t k)
{
    return k < 1 || k > n ? -INFINITY : log_choose(n - 1, k - 1);
}

static double probability(int64_t yes, int64_t no, int64_t count)
{
    const int64_t half = count / 2, rest = count - half;
    const double all = log_choose(yes + no, yes);

    return exp(log_cuts(yes, rest) + log_cuts(no, half) - all) +
           exp(log_cuts(yes, half) + log_cuts(no, rest) - all);
}

struct runs runs_test(int64_t yes, int64_t no, int64_t count)
{
    struct runs r = {.defined = false};

    if (yes < 1 || no < 1 || yes > RUNS_MAX || no > RUNS_MAX || yes + no < 3 || yes + no > RUNS_MAX)
        return r;
    const int64_t fewer = yes < no ? yes : no;
    const int64_t most = yes == no ? 2 * fewer : 2 * fewer + 1;
    if (count < 2 || count > most)
        return r;
    const double n = (double)(yes + no), twice = 2.0 * (double)yes * (double)no;

    r = (struct runs){.defined = true, .yes = yes, .no = no, .count = count};
    r.mean = 1.0 + twice / n;
    r.variance = twice * (twice - n) / (n * n * (n - 1.0));
    const double off = (double)count - r.mean;
    r.z = off / sqrt(r.variance);
    r.z_cc = copysign(fmax(0.0, fabs(off) - 0.5), off) / sqrt(r.variance);
    for (int64_t i = 2; i <= most; i++) {
        const double p = probability(yes, no, i);
        r.exact_le += i <= count ? p : 0.0;
        r.exact_ge += i >= count ? p : 0.0;
    }
    r.exact_le = fmin(1.0, r.exact_le);
    r.exact_ge = fmin(1.0, r.exact_ge);
    return r;
}

struct runs runs_test_sequence(const bool *sequence, size_t length)
{
    int64_t kinds[2] = {0, 0};
    int64_t count = 0;

    for (size_t i = 0; i < length; i++) {
        kinds[sequence[i]]++;
        count += i == 0 || sequence[i] != sequence[i - 1];
    }
    return runs_test(kinds[1], kinds[0], count);
}
