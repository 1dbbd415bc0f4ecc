/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "radio.h"

#include "../signal/signals.h"
#include "signal/filters/crossover.h"
#include "signal/resample.h"
#include <string.h>

RadioLead radio_lead(int fed_from, double gain, double delay_seconds)
{
  return (RadioLead){.fed_from = fed_from, .gain = gain, .delay_seconds = delay_seconds};
}

void radio_add_section(RadioLead *lead, CwSectionKind kind, double hz, double gain_db, double q)
{
  CwSection section = {kind, hz, gain_db, q};
  g_assert_cmpuint(lead->sections, <, G_N_ELEMENTS(lead->cascade));
  g_assert_true(cw_section_design(&section, RADIO_RATE_HZ, &lead->cascade[lead->sections++]));
}

void radio_add_filter(RadioLead *lead, CwFilterFamily family, CwPass pass, int order, double hz)
{
  CwCoefficients coefficients[CW_CROSSOVER_MOST_SECTIONS];
  size_t count = cw_crossover_design(family, pass, order, hz, RADIO_RATE_HZ, coefficients, NULL);
  g_assert_cmpuint(count, >, 0);
  g_assert_cmpuint(lead->sections + count, <=, G_N_ELEMENTS(lead->cascade));
  memcpy(lead->cascade + lead->sections, coefficients, count * sizeof *coefficients);
  lead->sections += count;
}

CwComplex radio_response(const RadioLead *lead, double hz, double zero_seconds)
{
  CwComplex value = lead->gain * cexp(-2 * G_PI * I * hz * (lead->delay_seconds - zero_seconds));
  for (size_t s = 0; s < lead->sections; s++)
    value *= cw_coefficients_response(&lead->cascade[s], hz, RADIO_RATE_HZ);
  return value;
}

/* The track at the radio's input, a sum of its channels as the lead is fed. */
static void feed(const RadioLead *lead, const double *left, const double *right, size_t count, double *out)
{
  for (size_t i = 0; i < count; i++)
    out[i] =
        (lead->fed_from & CW_PLAYED_LEFT ? left[i] : 0) + (lead->fed_from & CW_PLAYED_RIGHT ? right[i] : 0);
}

static void run(const RadioLead *lead, double *samples, size_t frames, uint64_t seed)
{
  cw_cascade_run(lead->cascade, lead->sections, samples, frames);
  delay_by(samples, frames, lead->delay_seconds * RADIO_RATE_HZ);
  for (size_t i = 0; i < frames; i++) {
    samples[i] *= lead->gain;
    if (lead->rail > 0)
      samples[i] = CLAMP(samples[i], -lead->rail, lead->rail);
  }
  add_noise(samples, frames, lead->noise_rms, seed);
}

RadioRecording radio_record(CwStimulusKind kind, const RadioLead *lead, size_t leads)
{
  CwStimulus stimulus = cw_stimulus_design(kind);
  size_t track = cw_stimulus_frames(&stimulus, RADIO_RATE_HZ);
  RadioRecording r = {.channels = leads, .frames = cw_fft_good_length(track + 2 * RADIO_LEAD_IN)};
  double *left = cw_alloc_real(track), *right = cw_alloc_real(track);

  cw_stimulus_render(&stimulus, RADIO_RATE_HZ, left, right);
  r.channel = g_new(double *, leads);
  for (size_t c = 0; c < leads; c++) {
    r.channel[c] = cw_alloc_real(r.frames);
    feed(&lead[c], left, right, track, r.channel[c] + RADIO_LEAD_IN);
    run(&lead[c], r.channel[c], r.frames, 1000 * (uint64_t)kind + c);
  }
  cw_free(left);
  cw_free(right);
  return r;
}

void radio_clear(RadioRecording *r)
{
  for (size_t c = 0; c < r->channels; c++)
    cw_free(r->channel[c]);
  g_free(r->channel);
  memset(r, 0, sizeof *r);
}

void radio_drift(RadioRecording *r, double ppm)
{
  double ratio = 1 / (1 + 1e-6 * ppm);
  size_t frames = cw_resample_frames(r->frames, ratio);

  for (size_t c = 0; c < r->channels; c++) {
    double *drifted = cw_alloc_real(frames);
    cw_resample(r->channel[c], r->frames, ratio, drifted);
    cw_free(r->channel[c]);
    r->channel[c] = drifted;
  }
  r->frames = frames;
}

void radio_ideal(const RadioLead *lead, double noise_part, CwLeadResponse *response)
{
  double top = 0;

  response->peak_seconds = lead->delay_seconds;
  for (size_t i = 0; i < CW_LEAD_POINTS; i++) {
    response->value[i] = radio_response(lead, cw_lead_hz(i), response->peak_seconds);
    top = MAX(top, cabs(response->value[i]));
  }
  for (size_t i = 0; i < CW_LEAD_POINTS; i++)
    response->noise[i] = noise_part * top;
}

char *radio_accept(CwLeadSurvey *survey, CwStimulusKind kind, RadioRecording *r, double volume_step,
                   const char *seat)
{
  g_autofree int *lead = g_new(int, r->channels);
  for (size_t c = 0; c < r->channels; c++)
    lead[c] = (int)c + 1;
  CwSurveyRecording recording = {.kind = kind,
                                 .track_rate_hz = RADIO_RATE_HZ,
                                 .rate_hz = RADIO_RATE_HZ,
                                 .channels = r->channels,
                                 .frames = r->frames,
                                 .channel = r->channel,
                                 .lead = lead,
                                 .volume_step = volume_step,
                                 .seat = seat};
  return cw_lead_survey_accept(survey, &recording);
}
