/* sample.c: measured times. */
#include "sample.h"

#include <math.h>
#include <stdlib.h>

#include "base.h"

void sample_add(struct sample *sample, double value)
{
    if (sample->count == sample->room) {
        size_t room = sample->room == 0 ? 256 : sample->room * 2;
        double *grown = realloc(sample->value, room * sizeof *grown);
        if (grown == NULL) {
            harness_die("sample");
        }
        sample->value = grown;
        sample->room = room;
    }
    sample->value[sample->count++] = value;
}

void sample_release(struct sample *sample)
{
    free(sample->value);
    *sample = (struct sample){0};
}

static int compare(const void *a, const void *b)
{
    double x = *(const double *)a, y = *(const double *)b;
    return (x > y) - (x < y);
}

double sample_quantile(struct sample *sample, double part)
{
    if (sample->count == 0) {
        return 0;
    }
    qsort(sample->value, sample->count, sizeof *sample->value, compare);
    size_t rank = (size_t)ceil(part * (double)sample->count);
    return sample->value[rank == 0 ? 0 : rank - 1];
}

double sample_median(struct sample *sample)
{
    return sample_quantile(sample, 0.5);
}
