/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "signal/live/sound_meter.h"
#include <math.h>
#include <string.h>

#define BLOCK 256

void cw_sound_meter_init(CwSoundMeter *meter, double rate_hz, double constant_seconds)
{
  memset(meter, 0, sizeof *meter);
  meter->rate_hz = rate_hz;
  meter->constant_seconds = constant_seconds;
  meter->sections[CW_METER_A] =
      cw_weighting_filter_design(CW_WEIGHTING_A, rate_hz, meter->cascade[CW_METER_A]);
  meter->sections[CW_METER_C] =
      cw_weighting_filter_design(CW_WEIGHTING_C, rate_hz, meter->cascade[CW_METER_C]);
}

static void run_block(CwSoundMeter *meter, const double *samples, size_t count)
{
  double keep = exp(-1 / (meter->constant_seconds * meter->rate_hz));

  for (int w = 0; w < CW_METER_WEIGHTINGS; w++) {
    double weighted[BLOCK], held = meter->held[w], sum = 0;
    memcpy(weighted, samples, count * sizeof *samples);
    cw_cascade_run_stream(meter->cascade[w], meter->sections[w], meter->state[w], weighted, count);
    for (size_t i = 0; i < count; i++) {
      held = keep * held + (1 - keep) * weighted[i] * weighted[i];
      sum += weighted[i] * weighted[i];
    }
    meter->held[w] = held;
    meter->sum[w] += sum;
  }
}

void cw_sound_meter_run(CwSoundMeter *meter, const float *samples, size_t stride, size_t count)
{
  for (size_t at = 0; at < count; at += BLOCK) {
    double block[BLOCK];
    size_t part = count - at < BLOCK ? count - at : BLOCK;
    for (size_t i = 0; i < part; i++)
      block[i] = (double)samples[(at + i) * stride];
    run_block(meter, block, part);
  }
  meter->seconds += (double)count / meter->rate_hz;
}

static bool is_met(const CwSoundMeter *meter, CwMeterWeighting weighting)
{
  return weighting == CW_METER_FLAT || meter->sections[weighting] > 0;
}

double cw_sound_meter_level_db(const CwSoundMeter *meter, CwMeterWeighting weighting)
{
  return is_met(meter, weighting) ? 10 * log10(meter->held[weighting] + 1e-30) : NAN;
}

double cw_sound_meter_take(CwSoundMeter *meter, CwMeterWeighting weighting, double *seconds)
{
  double samples = meter->seconds * meter->rate_hz,
         level = samples > 0 && is_met(meter, weighting) ? 10 * log10(meter->sum[weighting] / samples + 1e-30)
                                                         : NAN;

  *seconds = meter->seconds;
  meter->seconds = 0;
  memset(meter->sum, 0, sizeof meter->sum);
  return level;
}
