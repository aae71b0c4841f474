/* commit.h: the least that a durable entry costs: one row, one SQLite transaction. */
#ifndef BENCH_COMMIT_H
#define BENCH_COMMIT_H

struct commit;

/* A database of its own in that folder: WAL, synchronous=FULL. Both abort on failure. */
struct commit *commit_open(const char *folder);
/* Milliseconds that one insertion took until it was durable. */
double commit_one(struct commit *commit);
void commit_close(struct commit *commit);

#endif
