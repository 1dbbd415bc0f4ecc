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

size_t cw_recorded_take_silences(const CwStimulus *stimulus, const CwTrackPlace *place, double spread_seconds,
                                 size_t frames, double rate_hz, CwStretch *silence)
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
    from = i < n ? sound[i].to + AFTER_SECONDS + spread_seconds : 0;
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

#define FLAT_WITHIN 3e-6 /* parts of full scale, of samples that are the same */
#define FLAT_LEAST 60    /* samples */
#define FLAT_AROUND 20.0 /* times as far, within which there are far fewer */
#define FLAT_LOWEST 0.02 /* of full scale */
#define COARSE_STEP (1.0 / 32768)

/* Do the samples go as far as one value, again and again, and stop there? */
static bool is_flat(const double *samples, size_t frames, double sign, double step)
{
  double top = 0, within = fmax(FLAT_WITHIN, 0.5 * step);
  size_t at_top = 0, around = 0;

  for (size_t i = 0; i < frames; i++)
    top = fmax(top, sign * samples[i]);
  for (size_t i = 0; i < frames; i++) {
    double below = top - sign * samples[i];
    at_top += below <= within;
    around += below > within && below <= FLAT_AROUND * within;
  }
  return top > FLAT_LOWEST && at_top > FLAT_LEAST && at_top > 4 * around;
}

/* Sixteen bits or fewer show as whole multiples of their step. */
static double coarse_step(const double *samples, size_t frames)
{
  for (size_t i = 0; i < frames; i += 7)
    if (fabs(samples[i] / COARSE_STEP - rint(samples[i] / COARSE_STEP)) > 1e-6)
      return 0;
  return COARSE_STEP;
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

#define LATE_SECONDS 0.012 /* what the silences' margins and a response's window allow for anyway */
#define REACH_SECONDS 0.2  /* within which a lead may come before or after the one that placed the track */
#define MARKER_SNR_DB 18.0

/* The channels' own arrivals about the place, by their first marker: the place goes to the earliest, for a
 * surround mode may delay the loudest lead by a tenth of a second. Returns how much later the last one is. */
static double spread_of(CwTrackPlace *place, const CwStimulus *s, const double *const *channel,
                        size_t channels, size_t frames, double rate_hz)
{
  double earliest = 0, latest = 0, marker = place->start_frame + s->marker_at[0] * place->player_rate_hz;
  long first = lrint(marker - REACH_SECONDS * rate_hz);
  size_t count = (size_t)((s->marker.seconds + 2 * REACH_SECONDS) * rate_hz);

  first = first < 0 ? 0 : first;
  count = (size_t)first + count > frames ? frames - (size_t)first : count;
  for (size_t c = 0; c < channels; c++) {
    CwMarkerHit hit;
    if (c == place->channel || cw_marker_find(&s->marker, rate_hz, channel[c] + first, count,
                                              2 * s->marker.seconds, MARKER_SNR_DB, &hit, 1) < 1)
      continue;
    double late = hit.at_seconds - (marker - (double)first) / rate_hz;
    earliest = fmin(earliest, late);
    latest = fmax(latest, late);
  }
  if (earliest > -LATE_SECONDS)
    earliest = 0;
  place->start_frame += earliest * rate_hz;
  return latest - earliest > LATE_SECONDS ? latest - earliest : 0;
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
  h.flat = cw_alloc_bytes(channels * sizeof *h.flat);
  h.step = channels ? coarse_step(channel[0], frames) : 0;
  for (size_t c = 0; c < channels; c++) {
    h.channel[c] = channel[c];
    h.clipped[c] = is_clipped(channel[c], frames);
    h.flat[c] =
        !h.clipped[c] && (is_flat(channel[c], frames, 1, h.step) || is_flat(channel[c], frames, -1, h.step));
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
  h.spread_seconds = spread_of(&h.place, &h.stimulus, samples, channels, h.frames, h.rate_hz);
  h.silences =
      cw_recorded_take_silences(&h.stimulus, &h.place, h.spread_seconds, h.frames, h.rate_hz, h.silence);
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
  cw_free(h->flat);
  memset(h, 0, sizeof *h);
}
