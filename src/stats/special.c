/* special.c: quantiles and tails of the normal, beta and gamma distributions. */
#include "stats/special.h"

#include <math.h>

/* Continued fractions and series here take some sqrt(n) terms; counts end at 1e9. */
#define TERMS_MAX 1000000
#define TINY      1e-300

/* Stirling's series (Abramowitz & Stegun 1964, 6.1.41), after shifting x up to where eight terms
 * give full double precision. */
double special_log_gamma(double x)
{
    static const double series[] = {1.0 / 12,   -1.0 / 360,      1.0 / 1260, -1.0 / 1680,
                                    1.0 / 1188, -691.0 / 360360, 1.0 / 156,  -3617.0 / 122400};
    double shift = 1.0;

    while (x < 10.0) {
        shift *= x;
        x += 1.0;
    }
    double tail = 0.0;
    for (int i = 7; i >= 0; i--)
        tail = tail / (x * x) + series[i];
    const double half_log_two_pi = 0.91893853320467274178;
    return (x - 0.5) * log(x) - x + half_log_two_pi + tail / x - log(shift);
}

/* Newton on the logarithm of the upper tail. That is concave, so the first step from 0 overshoots
 * and all others come back down to the root. */
double special_normal_z(double level)
{
    const double tail = (1.0 - level) / 2.0;
    double z = 0.0;

    for (int i = 0; i < 100; i++) {
        const double upper = erfc(z * M_SQRT1_2) / 2.0;
        const double density = exp(-z * z / 2.0) * M_2_SQRTPI * M_SQRT1_2 / 2.0;
        const double step = log(upper / tail) * upper / density;
        z += step;
        if (fabs(step) <= 1e-15 * z)
            break;
    }
    return z;
}

/* The continued fraction of the incomplete beta (Abramowitz & Stegun 26.5.8) by Lentz's method;
 * quick for x below (a + 1) / (a + b + 2). */
static double beta_fraction(double x, double a, double b)
{
    double c = 1.0;
    double d = 1.0 - (a + b) * x / (a + 1.0);

    d = 1.0 / (fabs(d) < TINY ? TINY : d);
    double f = d;
    for (int m = 1; m <= TERMS_MAX; m++) {
        double delta = 1.0;
        const double even = m * (b - m) * x / ((a + 2.0 * m - 1.0) * (a + 2.0 * m));
        const double odd = -(a + m) * (a + b + m) * x / ((a + 2.0 * m) * (a + 2.0 * m + 1.0));
        for (int half = 0; half < 2; half++) {
            const double term = half == 0 ? even : odd;
            d = 1.0 + term * d;
            d = 1.0 / (fabs(d) < TINY ? TINY : d);
            c = 1.0 + term / c;
            if (fabs(c) < TINY)
                c = TINY;
            delta = c * d;
            f *= delta;
        }
        if (fabs(delta - 1.0) < 1e-16)
            break;
    }
    return f;
}

/* I_x(a, b) and its density in x. */
static double beta_cdf(double x, double a, double b, double *density)
{
    *density = 0.0;
    if (x <= 0.0)
        return 0.0;
    if (x >= 1.0)
        return 1.0;
    const double front = exp(special_log_gamma(a + b) - special_log_gamma(a) -
                             special_log_gamma(b) + a * log(x) + b * log1p(-x));
    *density = front / (x * (1.0 - x));
    if (x < (a + 1.0) / (a + b + 2.0))
        return front * beta_fraction(x, a, b) / a;
    return 1.0 - front * beta_fraction(1.0 - x, b, a) / b;
}

/* P(a, x) and its density in x: series below a + 1, continued fraction above (Abramowitz & Stegun
 * 6.5.29, 6.5.31). */
static double gamma_cdf(double x, double a, double unused, double *density)
{
    (void)unused;
    *density = 0.0;
    if (x <= 0.0)
        return 0.0;
    const double front = exp(a * log(x) - x - special_log_gamma(a));
    *density = front / x;
    if (x < a + 1.0) {
        double term = 1.0 / a;
        double sum = term;
        for (int i = 1; i <= TERMS_MAX && term > sum * 1e-17; i++) {
            term *= x / (a + i);
            sum += term;
        }
        return front * sum;
    }
    double b = x + 1.0 - a;
    double c = 1.0 / TINY;
    double d = 1.0 / b;
    double f = d;
    for (int i = 1; i <= TERMS_MAX; i++) {
        const double term = -i * (i - a);
        b += 2.0;
        d = term * d + b;
        d = 1.0 / (fabs(d) < TINY ? TINY : d);
        c = b + term / c;
        if (fabs(c) < TINY)
            c = TINY;
        f *= c * d;
        if (fabs(c * d - 1.0) < 1e-16)
            break;
    }
    return 1.0 - front * f;
}

/* Newton, held in a bracket that halves wherever Newton would leave it. */
static double solve(double (*cdf)(double, double, double, double *), double p, double a, double b,
                    double low, double high, double x)
{
    for (int i = 0; i < 200; i++) {
        double density = 0.0;
        const double over = cdf(x, a, b, &density) - p;
        if (over > 0.0)
            high = x;
        else
            low = x;
        double next = density > 0.0 ? x - over / density : low;
        if (!(next > low && next < high))
            next = low + (high - low) / 2.0;
        const double step = fabs(next - x);
        x = next;
        if (step <= 1e-14 * x)
            break;
    }
    return x;
}

double special_beta(double x, double a, double b)
{
    double density = 0.0;
    return beta_cdf(x, a, b, &density);
}

double special_beta_quantile(double p, double a, double b)
{
    return solve(beta_cdf, p, a, b, 0.0, 1.0, a / (a + b));
}

double special_gamma_quantile(double p, double a)
{
    double density = 0.0;
    double high = 2.0 * a + 1.0;

    while (gamma_cdf(high, a, 0.0, &density) <= p)
        high *= 2.0;
    return solve(gamma_cdf, p, a, 0.0, 0.0, high, a);
}
