# reference.R: the values that unit tests of src/stats name R for, as R computes them. Not part of the
# suite: run it with Debian's r-base-core and r-cran-psych (R 4.2.2 and psych 2.2.9 printed what the
# tests have).
#
# usage: Rscript tests/outside/reference.R

# tests/unit/stats/pieces.c: Student's t, and his sleep data, which R brings along
print(qt(c(.975, .975, .975, .975, .995), c(1, 2, 10, 30, 10)), digits = 6)
sleeps <- t.test(extra ~ group, data = sleep, var.equal = TRUE)
print(c(sleeps$statistic, sleeps$p.value, sleeps$conf.int), digits = 8)

# tests/unit/stats/contingency.c: Fisher's tea, all right; the physicians' table
one_sided <- function(...)
    fisher.test(matrix(c(...), 2, byrow = TRUE), alternative = "greater")$p.value
print(c(one_sided(4, 0, 0, 4), one_sided(189, 10845, 104, 10933)), digits = 12)

# tests/unit/stats/kappa.c: Fleiss, Cohen and Everitt's table: kappa and its standard error
counts <- matrix(c(106, 10, 4, 22, 28, 10, 2, 12, 6), 3, byrow = TRUE)
kappa <- psych::cohen.kappa(counts)
print(c(kappa$kappa, sqrt(kappa$var.kappa)), digits = 8)

# tests/unit/stats/adjust.c: Benjamini and Hochberg's fifteen p-values, adjusted
p <- c(.0001, .0004, .0019, .0095, .0201, .0278, .0298, .0344, .0459, .3240, .4262, .5719, .6528,
       .7590, 1)
print(p.adjust(p, "BH"), digits = 8)

# tests/unit/insight/setups.c: 35 against 65 in 100, 47 of each
print(power.prop.test(n = 47, p1 = .35, p2 = .65)$power, digits = 4)
print(phyper(5, 8, 6, 7, lower.tail = FALSE), digits = 12)
