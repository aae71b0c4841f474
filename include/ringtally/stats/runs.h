/* runs.h: do landed and missed come in streaks. Pure. */
#ifndef RINGTALLY_STATS_RUNS_H
#define RINGTALLY_STATS_RUNS_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

struct runs {
    bool defined; /* false unless both kinds occur, the counts fit, the total is 3 .. RUNS_MAX */
    int64_t yes, no, count; /* how many of each, and in how many runs */
    double mean, variance;  /* of the number of runs in a random order */
    double z, z_cc;         /* without and with continuity correction (one half, to 0 at most) */
    double exact_le;        /* P(as few runs or fewer) */
    double exact_ge;        /* P(as many or more) */
};

#define RUNS_MAX 100000

/* Runs test (Wald A, Wolfowitz J 1940; exact distribution as in Swed FS, Eisenhart C 1943, Annals
 * of Mathematical Statistics 14:66-87), from the counts or from the sequence. */
struct runs runs_test(int64_t yes, int64_t no, int64_t count);
struct runs runs_test_sequence(const bool *sequence, size_t length);

#endif
