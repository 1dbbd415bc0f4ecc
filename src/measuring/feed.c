/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "measuring/feed.h"
#include <math.h>

#define SILENCE_SECONDS 0.5
#define TAIL_SECONDS 0.75       /* until a cabin has died away, with room for a recorder's latency */
#define MARKER_REST_SECONDS 0.4 /* between the first marker and the sweep */
#define MARKER_SECONDS 0.12
#define GROWTH_SECONDS 0.85 /* keeps the second harmonic's response 0.59 s ahead, beyond the 0.5 s window */
#define PROVING_GROWTH_SECONDS 0.3 /* a whole run through nine outputs takes half a minute a place */
#define TOP_HZ 21500.0             /* below half the lowest usual recorder rate */

/* Whole samples at every usual rate, which multiples of 10 ms are, so that a rendered feed keeps the design's
 * times exactly. */
static double whole(double seconds)
{
  return ceil(seconds * 100) / 100;
}

static CwSweep design_sweep(double lowest_hz, double rate_hz, double level_dbfs, double growth_seconds)
{
  double stop = fmin(TOP_HZ, 0.45 * rate_hz), start = fmin(fmax(lowest_hz / 2, 8), stop / 4);

  return cw_sweep_design(start, stop, growth_seconds, level_dbfs, lowest_hz);
}

CwSweepFeed cw_proving_feed_design(double lowest_hz, double rate_hz, double level_dbfs)
{
  CwSweepFeed feed = {.sweep = design_sweep(lowest_hz, rate_hz, level_dbfs, PROVING_GROWTH_SECONDS),
                      .repeats = 1,
                      .sweep_at = SILENCE_SECONDS};

  feed.seconds = feed.sweep_at + feed.sweep.seconds + TAIL_SECONDS;
  return feed;
}

CwSweepFeed cw_sweep_feed_design(double lowest_hz, double rate_hz, double level_dbfs, double marker_lowest_hz)
{
  CwSweepFeed feed = {.repeats = 1};

  feed.sweep = design_sweep(lowest_hz, rate_hz, level_dbfs, GROWTH_SECONDS);
  feed.has_marker = marker_lowest_hz > 0;
  feed.sweep_at = SILENCE_SECONDS;
  if (feed.has_marker) {
    feed.marker = (CwMarker){fmin(fmax(1.15 * marker_lowest_hz, 500), 9000), 17000, MARKER_SECONDS,
                             pow(10, level_dbfs / 20), CW_MARKER_FADE_PART};
    feed.first_marker_at = SILENCE_SECONDS;
    feed.sweep_at = feed.first_marker_at + MARKER_SECONDS + MARKER_REST_SECONDS;
    feed.second_marker_at = whole(feed.sweep_at + feed.sweep.seconds + TAIL_SECONDS);
    feed.seconds = feed.second_marker_at + MARKER_SECONDS + MARKER_REST_SECONDS;
  } else {
    feed.seconds = feed.sweep_at + feed.sweep.seconds + TAIL_SECONDS;
  }
  return feed;
}

CwSweepFeed cw_repeated_feed_design(double lowest_hz, double rate_hz, double level_dbfs,
                                    double marker_lowest_hz, unsigned repeats)
{
  CwSweepFeed feed = cw_sweep_feed_design(lowest_hz, rate_hz, level_dbfs, marker_lowest_hz);

  feed.repeats = repeats < 1 ? 1 : repeats > CW_FEED_REPEATS_MOST ? CW_FEED_REPEATS_MOST : repeats;
  feed.period_seconds = whole(feed.sweep.seconds + TAIL_SECONDS);
  if (feed.repeats == 1)
    return feed;
  feed.seconds = feed.sweep_at + feed.repeats * feed.period_seconds;
  if (feed.has_marker) {
    feed.second_marker_at = whole(feed.seconds);
    feed.seconds = feed.second_marker_at + MARKER_SECONDS + MARKER_REST_SECONDS;
  }
  return feed;
}

size_t cw_sweep_feed_frames(const CwSweepFeed *feed, double rate_hz)
{
  return (size_t)ceil(feed->seconds * rate_hz) + 1;
}

static size_t sample_at(double seconds, double rate_hz)
{
  return (size_t)lrint(seconds * rate_hz);
}

void cw_sweep_feed_render(const CwSweepFeed *feed, double rate_hz, double *sweep, double *marker)
{
  for (unsigned i = 0; i < feed->repeats; i++)
    cw_sweep_render(&feed->sweep, rate_hz,
                    sweep + sample_at(feed->sweep_at + i * feed->period_seconds, rate_hz));
  if (marker && feed->has_marker) {
    cw_marker_render(&feed->marker, rate_hz, marker + sample_at(feed->first_marker_at, rate_hz));
    cw_marker_render(&feed->marker, rate_hz, marker + sample_at(feed->second_marker_at, rate_hz));
  }
}
