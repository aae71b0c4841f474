#include "ringtally/tally.h"

bool count_accuracy(const struct count *count, double *out)
{
    if (count->attempted == 0) {
        return false;
    }
    *out = (double)count->landed / count->attempted;
    return true;
}
