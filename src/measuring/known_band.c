/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "measuring/known_band.h"
#include <math.h>

#define MISLEADS_DB 0.8
#define WORTH_IT_DB 0.1 /* what more must be won for drawing further in */
#define MOST_DRAWN_IN_OCTAVES 0.5

typedef struct {
  const double *mean, *window_mean;
  size_t half; /* a window, in points */
} Response;

/* A reader who looks anywhere between points middle and middle + 1 has the same points in his window. How far
 * their mean, as far as they lie in first to last, is at most from the whole window's. */
static double misled_db(const Response *r, size_t middle, size_t first, size_t last)
{
  size_t from = middle + 1 > r->half ? middle + 1 - r->half : 0, to = middle + r->half, seen = 0;
  double sum = 0, worst = 0;

  for (size_t i = from > first ? from : first; i <= to && i <= last; i++, seen++)
    sum += r->mean[i];
  for (size_t i = 2 * middle; i <= 2 * middle + 2; i++)
    worst = fmax(worst, seen ? fabs(10 * log10(sum / (double)seen / r->window_mean[i])) : INFINITY);
  return worst;
}

/* The worst among the windows that the end at first cuts off, seen from below (step 1) or, with the end at
 * last, from above. */
static double worst_at_end(const Response *r, size_t first, size_t last, bool low_end)
{
  double worst = 0;

  for (size_t k = 0; k < r->half && first + k < last; k++)
    worst = fmax(worst, misled_db(r, low_end ? first + k : last - 1 - k, first, last));
  return worst;
}

/* By how many points the end has to be drawn in; if nothing will do, to where it misleads least. */
static size_t draw_in(const Response *r, size_t first, size_t last, size_t most, bool low_end)
{
  size_t best = 0;
  double least = INFINITY;

  for (size_t k = 0; k <= most && first + k + 2 * r->half <= last; k++) {
    double worst = low_end ? worst_at_end(r, first + k, last, true) : worst_at_end(r, first, last - k, false);
    if (worst <= MISLEADS_DB)
      return k;
    if (worst < least - WORTH_IT_DB) {
      least = worst;
      best = k;
    }
  }
  return best;
}

static void drop_short_runs(size_t count, size_t shortest, bool *known)
{
  size_t run = 0;

  for (size_t i = 0; i <= count; i++) {
    if (i < count && known[i]) {
      run++;
      continue;
    }
    for (size_t k = 1; run < shortest && k <= run; k++)
      known[i - k] = false;
    run = 0;
  }
}

void cw_known_band_settle(const double *mean, const double *window_mean, size_t count,
                          size_t points_per_octave, bool *known)
{
  Response r = {mean, window_mean, (size_t)lrint(0.5 * CW_KNOWN_BAND_OCTAVES * (double)points_per_octave)};
  size_t most = (size_t)(MOST_DRAWN_IN_OCTAVES * (double)points_per_octave), first = 0, last = count, below,
         above;

  drop_short_runs(count, 2 * r.half, known);
  while (first < count && !known[first])
    first++;
  while (last > first && !known[last - 1])
    last--;
  if (last - first < 4 * r.half)
    return;
  last--;
  below = draw_in(&r, first, last, most, true);
  above = draw_in(&r, first + below, last, most, false);
  for (size_t i = first; i < first + below; i++)
    known[i] = false;
  for (size_t i = last - above + 1; i <= last; i++)
    known[i] = false;
}
