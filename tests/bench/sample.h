/* sample.h: measured times, and what is said of them. */
#ifndef BENCH_SAMPLE_H
#define BENCH_SAMPLE_H

#include <stddef.h>

struct sample {
    double *value;
    size_t count, room;
};

/* Aborts when memory runs out. */
void sample_add(struct sample *sample, double value);
void sample_release(struct sample *sample);
/* The value below which `part` (0..1) of them lie, by the nearest rank; sorts. 0 where there are
 * none. */
double sample_quantile(struct sample *sample, double part);
double sample_median(struct sample *sample);

#endif
