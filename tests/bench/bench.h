/* SPDX-License-Identifier: GPL-3.0-or-later */
#pragma once
#include <stddef.h>
#include <time.h>

/* Of the processor: what else the machine does is not in it. */
static inline double bench_seconds(void)
{
  struct timespec now;
  clock_gettime(CLOCK_PROCESS_CPUTIME_ID, &now);
  return (double)now.tv_sec + 1e-9 * (double)now.tv_nsec;
}

/* The shortest of several runs, seconds: what else the machine does can only lengthen a run, by what it takes out of
 * the caches. */
static inline double bench_best(void (*run)(void *), void *data, int runs)
{
  double best = 1e9;
  for (int i = 0; i < runs; i++) {
    double start = bench_seconds();
    run(data);
    double took = bench_seconds() - start;
    best = took < best ? took : best;
  }
  return best;
}
