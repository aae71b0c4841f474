/* lag.c: lag-sequential z. */
#include "ringtally/stats/lag.h"

#include <math.h>

#include "ringtally/stats/contingency.h"
#include "ringtally/stats/interval.h"

bool lag_transitions(int64_t *table, size_t categories, const int *codes, size_t length, size_t lag)
{
    if (categories == 0 || lag == 0)
        return false;
    for (size_t i = 0; i < length; i++)
        if (codes[i] != LAG_BREAK && (codes[i] < 0 || (size_t)codes[i] >= categories))
            return false;

    size_t unbroken = 0; /* codes since the last break, this one included */
    for (size_t i = 0; i < length; i++) {
        unbroken = codes[i] == LAG_BREAK ? 0 : unbroken + 1;
        if (unbroken > lag)
            table[(size_t)codes[i - lag] * categories + (size_t)codes[i]]++;
    }
    return true;
}

struct lag_cell lag_measure(int64_t joint, int64_t given, int64_t target, int64_t total)
{
    struct lag_cell cell = {.defined = false};

    if (total < 1 || total > INTERVAL_COUNT_MAX || joint < 0 || joint > given || joint > target ||
        given > total || target > total || given + target - joint > total)
        return cell;
    const double n = (double)total, row = (double)given, column = (double)target;

    cell.defined = true;
    cell.expected = row * column / n;
    cell.probability = given > 0 ? (double)joint / row : 0.0;
    if (given > 0 && given < total && target > 0 && target < total) {
        cell.has_z = true;
        cell.z = ((double)joint - cell.expected) /
                 sqrt(cell.expected * (1.0 - column / n) * (1.0 - row / n));
    }
    cell.has_q = contingency_yule_q(&cell.q, joint, given - joint, target - joint,
                                    total - given - target + joint);
    return cell;
}
