/* reliability.c: agreement of many observers. */
#include "ringtally/stats/reliability.h"

#define CELL_MAX 1000000

/* What one unit adds. */
struct unit {
    double ratings;
    double pairs; /* ordered pairs of ratings that agree */
};

static struct unit unit_of(const int *row, size_t categories)
{
    struct unit u = {0.0, 0.0};

    for (size_t i = 0; i < categories; i++) {
        u.ratings += row[i];
        u.pairs += (double)row[i] * (row[i] - 1);
    }
    return u;
}

static bool valid(const int *counts, size_t units, size_t categories)
{
    if (categories < 1 || categories > RELIABILITY_CATEGORIES_MAX)
        return false;
    for (size_t i = 0; i < units * categories; i++)
        if (counts[i] < 0 || counts[i] > CELL_MAX)
            return false;
    return true;
}

struct agreement reliability_fleiss(const int *counts, size_t units, size_t categories)
{
    double used[RELIABILITY_CATEGORIES_MAX] = {0};
    double observed = 0.0;

    if (units == 0 || !valid(counts, units, categories))
        return (struct agreement){.counted = false};
    const double raters = unit_of(counts, categories).ratings;
    if (raters < 2.0)
        return (struct agreement){.counted = false};
    for (size_t i = 0; i < units; i++) {
        const int *row = counts + i * categories;
        const struct unit u = unit_of(row, categories);
        if (u.ratings != raters)
            return (struct agreement){.counted = false};
        observed += u.pairs / (raters * (raters - 1.0)) / (double)units;
        for (size_t j = 0; j < categories; j++)
            used[j] += row[j] / (raters * (double)units);
    }
    double expected = 0.0;
    for (size_t j = 0; j < categories; j++)
        expected += used[j] * used[j];
    return kappa_correct(observed, expected);
}

struct agreement reliability_alpha(const int *counts, size_t units, size_t categories)
{
    double used[RELIABILITY_CATEGORIES_MAX] = {0};
    double values = 0.0, agreed = 0.0;

    if (!valid(counts, units, categories))
        return (struct agreement){.counted = false};
    for (size_t i = 0; i < units; i++) {
        const int *row = counts + i * categories;
        const struct unit u = unit_of(row, categories);
        if (u.ratings < 2.0)
            continue;
        values += u.ratings;
        agreed += u.pairs / (u.ratings - 1.0);
        for (size_t j = 0; j < categories; j++)
            used[j] += row[j];
    }
    if (values < 2.0)
        return (struct agreement){.counted = false};
    double alike = 0.0;
    for (size_t j = 0; j < categories; j++)
        alike += used[j] * (used[j] - 1.0);
    return kappa_correct(agreed / values, alike / (values * (values - 1.0)));
}

struct agreement reliability_ac1(const int *counts, size_t units, size_t categories)
{
    double used[RELIABILITY_CATEGORIES_MAX] = {0};
    double rated = 0.0, paired = 0.0, agreed = 0.0;

    if (categories < 2 || !valid(counts, units, categories))
        return (struct agreement){.counted = false};
    for (size_t i = 0; i < units; i++) {
        const int *row = counts + i * categories;
        const struct unit u = unit_of(row, categories);
        if (u.ratings < 1.0)
            continue;
        rated += 1.0;
        for (size_t j = 0; j < categories; j++)
            used[j] += row[j] / u.ratings;
        if (u.ratings >= 2.0) {
            paired += 1.0;
            agreed += u.pairs / (u.ratings * (u.ratings - 1.0));
        }
    }
    if (paired < 1.0)
        return (struct agreement){.counted = false};
    double differ = 0.0;
    for (size_t j = 0; j < categories; j++)
        differ += used[j] / rated * (1.0 - used[j] / rated);
    return kappa_correct(agreed / paired, differ / ((double)categories - 1.0));
}
