/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "measuring/search_tone.h"
#include <math.h>

#define LEAST_HZ 20.0
#define MOST_HZ 2000.0
#define REACH_OCTAVES (1.0 / 3)
#define LOOP_SECONDS 6.0

CwSearchTone cw_search_tone_design(double hz, double lowest_hz, double level_dbfs)
{
  double low = fmax(fmin(fmax(hz, LEAST_HZ), MOST_HZ) * exp2(-REACH_OCTAVES), lowest_hz);

  return (CwSearchTone){low, fmax(fmin(fmax(hz, LEAST_HZ), MOST_HZ), lowest_hz) * exp2(REACH_OCTAVES),
                        LOOP_SECONDS, pow(10, level_dbfs / 20)};
}

size_t cw_search_tone_frames(const CwSearchTone *tone, double rate_hz)
{
  return (size_t)lrint(tone->seconds * rate_hz);
}

/* Over the logarithm of frequency it swings like a pendulum: longest at the ends, where it turns. */
double cw_search_tone_hz(const CwSearchTone *tone, double seconds)
{
  double middle = sqrt(tone->low_hz * tone->high_hz), reach = 0.5 * log(tone->high_hz / tone->low_hz);

  return middle * exp(-reach * cos(2 * M_PI * seconds / tone->seconds));
}

void cw_search_tone_render(const CwSearchTone *tone, double rate_hz, double *out)
{
  size_t frames = cw_search_tone_frames(tone, rate_hz);
  double cycles = 0, whole, stretch;

  for (size_t i = 0; i < frames; i++)
    cycles += cw_search_tone_hz(tone, (double)i / rate_hz) / rate_hz;
  whole = rint(cycles);
  stretch = whole /
            cycles; /* some parts in a thousand: a whole number of periods is what makes the loop seamless */
  cycles = 0;
  for (size_t i = 0; i < frames; i++) {
    out[i] = tone->level * sin(2 * M_PI * (cycles - floor(cycles)));
    cycles += stretch * cw_search_tone_hz(tone, (double)i / rate_hz) / rate_hz;
  }
}
