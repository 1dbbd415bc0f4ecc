/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "signal/decimator.h"
#include "survey/leads/lead_response.h"
#include <math.h>
#include <string.h>

#define MOST_RATE_HZ 64000.0
#define AFTER_SECONDS                                                                                        \
  0.12 /* until a lead is silent after a sound, delays and the slowest ringing included                      \
        */
#define BEFORE_SECONDS 0.02
#define CLIPPED_RUN 3 /* samples in a row at full scale */
#define FULL_SCALE 0.9998

/* A sound of the track, from when to when. */
typedef struct {
  double from, to;
} Sound;

static size_t list_sounds(const CwStimulus *s, Sound *sound)
{
  size_t n = 0;

  for (size_t i = 0; i < s->markers; i++)
    sound[n++] = (Sound){s->marker_at[i], s->marker_at[i] + s->marker.seconds};
  for (size_t i = 0; i < s->sweeps; i++)
    sound[n++] = (Sound){s->sweep[i].at_seconds, s->sweep[i].at_seconds + s->sweep[i].sweep.seconds};
  for (size_t i = 0; i < s->tones; i++)
    sound[n++] = (Sound){s->tone[i].at_seconds, s->tone[i].at_seconds + s->tone[i].seconds};
  for (size_t i = 1; i < n; i++)
    for (size_t k = i; k > 0 && sound[k - 1].from > sound[k].from; k--) {
      Sound swap = sound[k];
      sound[k] = sound[k - 1];
      sound[k - 1] = swap;
    }
  return n;
}

size_t cw_recorded_take_silences(const CwStimulus *stimulus, const CwTrackPlace *place, size_t frames,
                                 double rate_hz, CwStretch *silence)
{
  Sound sound[CW_STIMULUS_MOST_MARKERS + 2 + CW_STIMULUS_TONES];
  size_t n = list_sounds(stimulus, sound), count = 0;
  double from = BEFORE_SECONDS;

  for (size_t i = 0; i <= n && count < 8; i++) {
    double to = (i < n ? sound[i].from : stimulus->seconds) - BEFORE_SECONDS;
    double first = fmax(place->start_frame + from * place->player_rate_hz, 0);
    double last = fmin(place->start_frame + to * place->player_rate_hz, (double)frames - 1);
    if (last - first > 0.1 * rate_hz)
      silence[count++] = (CwStretch){(size_t)ceil(first), (size_t)(last - ceil(first))};
    from = i < n ? sound[i].to + AFTER_SECONDS : 0;
  }
  return count;
}

static bool is_clipped(const double *samples, size_t frames)
{
  size_t run = 0;
  for (size_t i = 0; i < frames; i++) {
    run = fabs(samples[i]) >= FULL_SCALE ? run + 1 : 0;
    if (run >= CLIPPED_RUN)
      return true;
  }
  return false;
}

static double silence_rms(const double *samples, const CwStretch *silence, size_t silences)
{
  double sum = 0;
  size_t count = 0;

  for (size_t s = 0; s < silences; s++) {
    const double *x = samples + silence[s].first;
    double mean = 0;
    for (size_t i = 0; i < silence[s].count; i++)
      mean += x[i] / (double)silence[s].count;
    for (size_t i = 0; i < silence[s].count; i++)
      sum += (x[i] - mean) * (x[i] - mean);
    count += silence[s].count;
  }
  return count ? sqrt(sum / (double)count) : 0;
}

static void take_mean_off(double *samples, size_t frames)
{
  double mean = 0;
  for (size_t i = 0; i < frames; i++)
    mean += samples[i];
  mean /= (double)frames;
  for (size_t i = 0; i < frames; i++)
    samples[i] -= mean;
}

CwRecordedTake cw_recorded_take_new(CwStimulusKind kind, double *const *channel, size_t channels,
                                    size_t frames, double rate_hz)
{
  CwRecordedTake h = {
      .stimulus = cw_stimulus_design(kind), .rate_hz = rate_hz, .channels = channels, .frames = frames};

  h.channel = cw_alloc_bytes(channels * sizeof *h.channel);
  h.hum = cw_alloc_bytes(channels * sizeof *h.hum);
  h.noise_rms = cw_alloc_real(channels);
  h.clipped = cw_alloc_bytes(channels * sizeof *h.clipped);
  for (size_t c = 0; c < channels; c++) {
    h.channel[c] = channel[c];
    h.clipped[c] = is_clipped(channel[c], frames);
    take_mean_off(channel[c], frames);
  }
  for (; h.rate_hz > MOST_RATE_HZ; h.rate_hz /= 2) {
    for (size_t c = 0; c < channels; c++)
      cw_halve_rate(h.channel[c], h.frames);
    h.frames = (h.frames + 1) / 2;
  }
  const double *const *samples = (const double *const *)h.channel;
  h.place = cw_track_place(kind, samples, channels, h.frames, h.rate_hz);
  if (h.place.verdict != CW_PLACE_FOUND)
    return h;
  h.silences = cw_recorded_take_silences(&h.stimulus, &h.place, h.frames, h.rate_hz, h.silence);
  double hum_hz = cw_hum_find(samples, channels, h.silence, h.silences, h.rate_hz);
  for (size_t c = 0; c < channels; c++) {
    h.hum[c] = cw_hum_fit(hum_hz, h.channel[c], h.silence, h.silences, h.rate_hz);
    cw_hum_take_off(&h.hum[c], h.rate_hz, h.channel[c], h.frames);
    h.noise_rms[c] = silence_rms(h.channel[c], h.silence, h.silences);
  }
  return h;
}

void cw_recorded_take_clear(CwRecordedTake *h)
{
  cw_free(h->channel);
  cw_free(h->hum);
  cw_free(h->noise_rms);
  cw_free(h->clipped);
  memset(h, 0, sizeof *h);
}
