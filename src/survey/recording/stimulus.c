/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "survey/recording/stimulus.h"
#include <math.h>

#define REST_SECONDS CW_STIMULUS_EDGE_SECONDS
#define TAIL_SECONDS                                                                                         \
  0.6 /* after a sweep: what its high end leaves behind is gone in a tenth, hum is read from the rest */
#define MARKER_SECONDS 0.3
#define MARKER_LOW_HZ 120.0
#define MARKER_HIGH_HZ 17000.0
#define LEVEL_DBFS (-12.0)      /* leaves 12 dB for the radio's own boosts at the survey's volume */
#define LOUD_LEVEL_DBFS (-34.0) /* of marker and sweep at the highest volume: far below any clipping */
#define LONG_START_HZ 5.0       /* well below the band, so that what is cut off there does not ring into it */
#define SHORT_START_HZ 10.0
#define STOP_HZ 21000.0
#define TONE_SECONDS 3.2
#define TONE_LOW_DBFS (-30.0)
#define TONE_FADE_SECONDS 0.02
#define TONE_GAP_SECONDS 0.2

static const char *const names[CW_STIMULUS_KINDS] = {"leads", "front", "rear", "quiet", "loud"};

/* Away from the harmonics of 50 and 60 Hz mains, and with the third harmonic of the highest within the track.
 */
static const double tone_hz[CW_STIMULUS_TONES] = {113, 1013, 5987};

/* The sweeps differ in length, and with them the distances of the markers about them. */
static const double growth_seconds[CW_STIMULUS_KINDS] = {1.2, 0.4, 0.5, 0.6, 0.7};

const char *cw_stimulus_name(CwStimulusKind kind)
{
  return kind >= 0 && kind < CW_STIMULUS_KINDS ? names[kind] : "unknown";
}

/* Whole samples at every usual rate. */
static double whole(double seconds)
{
  return ceil(seconds * 100 - 1e-6) / 100;
}

static double add_marker(CwStimulus *s, double at)
{
  s->marker_at[s->markers++] = at;
  return whole(at + MARKER_SECONDS + REST_SECONDS);
}

static double add_sweep(CwStimulus *s, double at, int channels, double level_dbfs)
{
  CwSweep sweep = cw_sweep_design(s->kind == CW_STIMULUS_LEADS ? LONG_START_HZ : SHORT_START_HZ, STOP_HZ,
                                  growth_seconds[s->kind], level_dbfs, 0);

  s->sweep[s->sweeps++] = (CwStimulusSweep){at, channels, sweep};
  return whole(at + sweep.seconds + TAIL_SECONDS);
}

CwStimulus cw_stimulus_design(CwStimulusKind kind)
{
  bool loud = kind == CW_STIMULUS_LOUD;
  CwStimulus s = {.kind = kind,
                  .marker = {MARKER_LOW_HZ, MARKER_HIGH_HZ, MARKER_SECONDS,
                             pow(10, (loud ? LOUD_LEVEL_DBFS : LEVEL_DBFS) / 20), CW_MARKER_FADE_PART}};
  double at = add_marker(&s, REST_SECONDS);

  if (kind == CW_STIMULUS_LEADS) {
    at = add_sweep(&s, at, CW_PLAYED_LEFT, LEVEL_DBFS);
    at = add_marker(&s, at);
    at = whole(at + 0.5); /* so that its two distances differ */
    at = add_sweep(&s, at, CW_PLAYED_RIGHT, LEVEL_DBFS);
  } else {
    at = add_sweep(&s, at, CW_PLAYED_BOTH, loud ? LOUD_LEVEL_DBFS : LEVEL_DBFS);
  }
  if (loud) {
    at = add_marker(&s, at);
    for (size_t i = 0; i < CW_STIMULUS_TONES; i++, at = whole(at + TONE_SECONDS + TONE_GAP_SECONDS))
      s.tone[s.tones++] = (CwStimulusTone){at, TONE_SECONDS, tone_hz[i], TONE_LOW_DBFS, 0};
    at = whole(at + REST_SECONDS);
  }
  s.seconds = add_marker(&s, at);
  return s;
}

size_t cw_stimulus_frames(const CwStimulus *stimulus, double rate_hz)
{
  return (size_t)lrint(stimulus->seconds * rate_hz);
}

double cw_stimulus_tone_level_dbfs(const CwStimulusTone *tone, double seconds)
{
  return tone->low_dbfs + (tone->high_dbfs - tone->low_dbfs) * seconds / tone->seconds;
}

static void render_tone(const CwStimulusTone *tone, double rate_hz, double *out)
{
  size_t frames = (size_t)lrint(tone->seconds * rate_hz);

  for (size_t i = 0; i < frames; i++) {
    double t = (double)i / rate_hz, edge = fmin(fmin(t, tone->seconds - t) / TONE_FADE_SECONDS, 1);
    double window = 0.5 - 0.5 * cos(M_PI * edge), cycles = tone->hz * t;
    out[i] += window * pow(10, cw_stimulus_tone_level_dbfs(tone, t) / 20) *
              sin(2 * M_PI * (cycles - floor(cycles)));
  }
}

static void render_channel(const CwStimulus *s, int channel, double rate_hz, double *out)
{
  for (size_t i = 0; i < s->markers; i++)
    cw_marker_render(&s->marker, rate_hz, out + lrint(s->marker_at[i] * rate_hz));
  for (size_t i = 0; i < s->sweeps; i++)
    if (s->sweep[i].channels & channel)
      cw_sweep_render(&s->sweep[i].sweep, rate_hz, out + lrint(s->sweep[i].at_seconds * rate_hz));
  for (size_t i = 0; i < s->tones; i++)
    render_tone(&s->tone[i], rate_hz, out + lrint(s->tone[i].at_seconds * rate_hz));
}

void cw_stimulus_render(const CwStimulus *stimulus, double rate_hz, double *left, double *right)
{
  render_channel(stimulus, CW_PLAYED_LEFT, rate_hz, left);
  render_channel(stimulus, CW_PLAYED_RIGHT, rate_hz, right);
}
