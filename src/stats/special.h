/* special.h: the few special functions behind the intervals. Callers check the ranges. */
#ifndef RINGTALLY_TALLY_SPECIAL_H
#define RINGTALLY_TALLY_SPECIAL_H

/* ln Gamma(x), x > 0. The library's own writes a global (signgam). */
double special_log_gamma(double x);

/* z with P(|Z| < z) = level for a standard normal Z; 0 < level < 1. */
double special_normal_z(double level);

/* Regularised incomplete beta I_x(a, b); a, b > 0; and its inverse in x. */
double special_beta(double x, double a, double b);
double special_beta_quantile(double p, double a, double b);

/* Inverse of the regularised lower incomplete gamma P(a, x); a > 0. */
double special_gamma_quantile(double p, double a);

#endif
