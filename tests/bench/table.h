/* table.h: the table that the benchmark prints. */
#ifndef BENCH_TABLE_H
#define BENCH_TABLE_H

void table_title(const char *title);
/* A measure held against a floor of the same run: the target is a ratio (0: none). */
void table_ratio(const char *what, const char *unit, double value, double floor, double target);
/* A measure held against a number (0: none). */
void table_limit(const char *what, const char *unit, double value, double target);
/* A floor or a control on its own. */
void table_plain(const char *what, const char *unit, double value);

#endif
