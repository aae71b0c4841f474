/* pieces.c: ratio estimators over pieces of time. */
#include "ringtally/stats/pieces.h"

#include <math.h>

#include "ringtally/stats/rate.h"
#include "stats/special.h"

#define GROUP_LEAST 3
#define BOTH_LEAST  8

struct sums {
    double part, whole, n;
};

static struct sums sum_up(const struct piece *piece, size_t count)
{
    struct sums sums = {0.0, 0.0, 0.0};
    for (size_t i = 0; i < count; i++) {
        if (piece[i].whole > 0.0) {
            sums.part += piece[i].part;
            sums.whole += piece[i].whole;
            sums.n += 1.0;
        }
    }
    return sums;
}

static double squares(const struct piece *piece, size_t count, double ratio)
{
    double sum = 0.0;
    for (size_t i = 0; i < count; i++) {
        if (piece[i].whole > 0.0) {
            const double residual = piece[i].part - ratio * piece[i].whole;
            sum += residual * residual;
        }
    }
    return sum;
}

double student_two_sided(double t, double df)
{
    return special_beta(df / (df + t * t), df / 2.0, 0.5);
}

double student_quantile(double p, double df)
{
    const double x = special_beta_quantile(p, df / 2.0, 0.5);
    return sqrt(df * (1.0 - x) / x);
}

static double ways_to_deal(double n, double of)
{
    return exp(special_log_gamma(of + 1.0) - special_log_gamma(n + 1.0) -
               special_log_gamma(of - n + 1.0));
}

struct contrast pieces_compare(const struct piece *one, size_t count1, const struct piece *other,
                               size_t count2)
{
    const struct sums a = sum_up(one, count1), b = sum_up(other, count2);
    const double n = a.n + b.n;
    if (a.n < GROUP_LEAST || b.n < GROUP_LEAST || n < BOTH_LEAST)
        return (struct contrast){.defined = false};
    const double ratio = (a.part + b.part) / (a.whole + b.whole);
    const double all = squares(one, count1, ratio) + squares(other, count2, ratio);
    const double moved = a.part - ratio * a.whole; /* the sum of one's residuals */
    const double between = moved * moved * n / (a.n * b.n);
    const double within = fmax(0.0, all - between);
    if (!(all > 0.0))
        return (struct contrast){.defined = false};
    struct contrast out = {
        .defined = true,
        .value = {a.part / a.whole, b.part / b.whole},
        .df = n - 2.0,
    };
    out.difference = out.value[0] - out.value[1];
    out.error = sqrt(within / out.df * a.n * b.n / n) * (1.0 / a.whole + 1.0 / b.whole);
    out.p = within > 0.0 ? student_two_sided(sqrt(between / within * out.df), out.df) : 0.0;
    if (out.p < 0.1) /* with 8 pieces there are 56 ways or more */
        out.p = fmax(out.p, 1.0 / ways_to_deal(a.n, n));
    return out;
}

struct estimate pieces_interval(const struct contrast *contrast, double level)
{
    if (!contrast->defined || !(level > 0.0) || level > INTERVAL_LEVEL_MAX)
        return (struct estimate){.defined = false};
    const double reach = student_quantile(1.0 - level, contrast->df) * contrast->error;
    return (struct estimate){true, contrast->difference, contrast->difference - reach,
                             contrast->difference + reach};
}

double pieces_least(const struct contrast *contrast, double p)
{
    return contrast->defined ? student_quantile(p, contrast->df) * contrast->error : 0.0;
}

/* `residuals` = the sum of their squares; `squared` = what it would be where the strikes are
 * independent. */
static double inflation(double n, double residuals, double squared)
{
    return n < 2.0 || squared <= 0.0 ? 1.0 : fmax(1.0, residuals * n / (n - 1.0) / squared);
}

void piece_sums_add(struct piece_sums *sums, const struct piece *piece, size_t count)
{
    for (size_t i = 0; i < count; i++) {
        if (piece[i].whole > 0.0) {
            sums->n += 1.0;
            sums->part += piece[i].part;
            sums->whole += piece[i].whole;
            sums->parts += piece[i].part * piece[i].part;
            sums->wholes += piece[i].whole * piece[i].whole;
            sums->both += piece[i].part * piece[i].whole;
        }
    }
}

struct estimate piece_sums_share(const struct piece_sums *sums, double level)
{
    if (!(sums->whole > 0.0))
        return (struct estimate){.defined = false};
    const double share = sums->part / sums->whole;
    const double residuals = sums->parts - 2.0 * share * sums->both + share * share * sums->wholes;
    const double effect = inflation(sums->n, residuals, sums->whole * share * (1.0 - share));
    const double worth = fmax(1.0, sums->whole / effect);
    return interval_wilson(share * worth, worth, level);
}

struct estimate pieces_share(const struct piece *piece, size_t count, double level)
{
    struct piece_sums sums = {.n = 0.0};
    piece_sums_add(&sums, piece, count);
    return piece_sums_share(&sums, level);
}

struct estimate pieces_rate(const struct piece *piece, size_t count, double level)
{
    const struct sums sums = sum_up(piece, count);
    if (!(sums.whole > 0.0))
        return (struct estimate){.defined = false};
    const double effect =
        inflation(sums.n, squares(piece, count, sums.part / sums.whole), sums.part);
    return rate_interval(sums.part / effect, sums.whole / effect, level);
}
