/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "signal/filters/section.h"
#include "survey/check/say_trouble.h"
#include "survey/check/take_check.h"
#include "survey/survey_private.h"
#include <glib/gi18n-lib.h>
#include <math.h>
#include <string.h>

#define STEADY_DB 0.3 /* by which markers of one track may differ: the volume was not touched */
#define SOUND_HZ 2000.0
#define SOUND_OVER_QUIET 3.0
#define SETTLE_SECONDS 0.1
#define LEAST_MARKER 10.0 /* power of a marker over the noise for its level to count */

static void clear_take(gpointer data)
{
  CwAcceptedTake *take = data;
  g_free(take->lead);
  g_free(take->seat);
}

CwLeadSurvey *cw_lead_survey_new(double volts_per_full_scale)
{
  CwLeadSurvey *survey = g_new0(CwLeadSurvey, 1);

  survey->volts_per_full_scale = volts_per_full_scale;
  survey->takes = g_array_new(FALSE, TRUE, sizeof(CwAcceptedTake));
  survey->left_out = g_array_new(FALSE, TRUE, sizeof(CwTrouble));
  g_array_set_clear_func(survey->takes, clear_take);
  return survey;
}

void cw_lead_survey_set_volts(CwLeadSurvey *survey, double volts_per_full_scale)
{
  survey->volts_per_full_scale = volts_per_full_scale;
}

void cw_lead_survey_free(CwLeadSurvey *survey)
{
  if (!survey)
    return;
  g_array_unref(survey->takes);
  g_array_unref(survey->left_out);
  g_free(survey);
}

const CwAcceptedTake *cw_survey_find_take(const CwLeadSurvey *survey, CwStimulusKind kind, int lead,
                                          bool unplaced)
{
  for (guint t = 0; t < survey->takes->len; t++) {
    const CwAcceptedTake *take = &g_array_index(survey->takes, CwAcceptedTake, t);
    if (take->kind == kind && take->unplaced == unplaced && (lead == 0 || cw_accepted_take_lead(take, lead)))
      return take;
  }
  return NULL;
}

size_t cw_lead_survey_count(const CwLeadSurvey *survey, CwStimulusKind kind)
{
  size_t count = 0;
  for (guint i = 0; i < survey->takes->len; i++)
    count += g_array_index(survey->takes, CwAcceptedTake, i).kind == kind &&
             !g_array_index(survey->takes, CwAcceptedTake, i).unplaced;
  return count;
}

const CwAcceptedLead *cw_accepted_take_lead(const CwAcceptedTake *take, int lead)
{
  for (size_t i = 0; i < take->leads; i++)
    if (take->lead[i].lead == lead)
      return &take->lead[i];
  return NULL;
}

/* Why a track was not found, for people. */
static char *say_place(const CwTrackPlace *place, CwStimulusKind wanted)
{
  switch (place->verdict) {
  case CW_PLACE_FOUND:
    return NULL;
  case CW_PLACE_OTHER_TRACK:
    return g_strdup_printf(_("holds the track \"%s\" where \"%s\" was expected: two recordings may be mixed "
                             "up, or the wrong track was played"),
                           cw_stimulus_name(place->kind), cw_stimulus_name(wanted));
  case CW_PLACE_CUT_START:
    return g_strdup(_("begins after the track has begun: start the recording first, then the track"));
  case CW_PLACE_CUT_END:
    return g_strdup(_("ends before the track does: let the track play to its end"));
  case CW_PLACE_BROKEN:
    return g_strdup(_("the track was paused or skipped in it, or the recorder lost a part of it: play it "
                      "through in one go"));
  case CW_PLACE_NOTHING:
  default:
    return g_strdup(
        _("none of the test tracks is in it: check that the radio plays and that the leads are connected"));
  }
}

static double marker_power(const CwRecordedTake *h, size_t c, size_t marker)
{
  double first = h->place.start_frame + h->stimulus.marker_at[marker] * h->place.player_rate_hz, sum = 0;
  size_t count = (size_t)(h->stimulus.marker.seconds * h->place.player_rate_hz);

  for (size_t i = 0; i < count; i++) {
    long at = lrint(first) + (long)i;
    sum += at >= 0 && at < (long)h->frames ? h->channel[c][at] * h->channel[c][at] : 0;
  }
  return sum / (double)count;
}

/* The largest step in level from one marker to the next, dB, in the channel where they stand clearest. */
static double level_step_db(const CwRecordedTake *h)
{
  double clearest = LEAST_MARKER, step = 0;

  for (size_t c = 0; c < h->channels; c++) {
    double noise = h->noise_rms[c] * h->noise_rms[c] + 1e-20, first = marker_power(h, c, 0);
    if (first / noise < clearest)
      continue;
    clearest = first / noise;
    step = 0;
    for (size_t m = 1; m < h->stimulus.markers; m++) {
      double now = 10 * log10(fmax(marker_power(h, c, m) - noise, 1e-20) / fmax(first - noise, 1e-20));
      step = fabs(now) > fabs(step) ? now : step;
    }
  }
  return step;
}

static void analyse(const CwRecordedTake *h, const int *lead, CwAcceptedTake *take)
{
  take->leads = h->channels;
  take->lead = g_new0(CwAcceptedLead, h->channels);
  for (size_t s = 0; s < h->stimulus.sweeps; s++) {
    CwSweepInverse *inverse = cw_recorded_take_inverse(h, s);
    for (size_t c = 0; c < h->channels; c++)
      cw_recorded_take_respond_and_check(h, inverse, s, c, &take->lead[c].response[s],
                                         &take->lead[c].foreign[s]);
    cw_sweep_inverse_free(inverse);
  }
  for (size_t c = 0; c < h->channels; c++) {
    take->lead[c].lead = lead[c];
    take->lead[c].noise_rms = h->noise_rms[c];
    take->lead[c].hum_rms = cw_hum_rms(&h->hum[c]);
    cw_accepted_lead_levels(h->channel[c], h->frames, h->rate_hz, &take->lead[c]);
    for (size_t t = 0; t < h->stimulus.tones; t++)
      take->lead[c].tone[t] = cw_clip_read(h, t, c, take->lead[c].response[0].peak_seconds);
  }
}

static char *find_fault(const CwRecordedTake *h, const int *lead)
{
  char *fault = say_place(&h->place, h->stimulus.kind);

  for (size_t c = 0; c < h->channels && !fault; c++)
    if (h->clipped[c])
      fault = g_strdup_printf(
          _("lead %d drives the interface to full scale: lower its gain and record again"), lead[c]);
  if (!fault) {
    double step = level_step_db(h);
    if (fabs(step) > STEADY_DB)
      fault = g_strdup_printf(_("the level changed by %.1f dB while the track played: leave the volume alone "
                                "and record again. If "
                                "nobody touched it, a limiter in the radio acts"),
                              step);
  }
  return fault;
}

/* Does any channel carry sound where markers are? Leads of the bass do not. */
static bool has_sound(const CwRecordedTake *h)
{
  CwSection high_pass = {CW_SECTION_HIGH_PASS, SOUND_HZ, 0, M_SQRT1_2};
  CwCoefficients c;
  double *copy = cw_alloc_real(h->frames);
  bool sound = false;

  cw_section_design(&high_pass, h->rate_hz, &c);
  for (size_t i = 0; i < h->channels && !sound; i++) {
    CwAcceptedLead levels = {0};
    memcpy(copy, h->channel[i], h->frames * sizeof *copy);
    for (int pass = 0; pass < 3; pass++) /* 36 dB an octave: not the bass nor the hum */
      cw_cascade_run(&c, 1, copy, h->frames);
    size_t settled = (size_t)(SETTLE_SECONDS * h->rate_hz); /* the filter begins from rest */
    cw_accepted_lead_levels(copy + settled, h->frames - settled, h->rate_hz, &levels);
    sound = levels.loudest_rms > SOUND_OVER_QUIET * levels.quiet_rms;
  }
  cw_free(copy);
  return sound;
}

/* A take at one end of the fader in which nothing is found though it lasts: the fader may have silenced every
 * lead. */
static bool may_be_faded(const CwRecordedTake *h, CwStimulusKind kind)
{
  return (kind == CW_STIMULUS_FRONT || kind == CW_STIMULUS_REAR) && h->place.verdict != CW_PLACE_FOUND &&
         h->place.verdict != CW_PLACE_OTHER_TRACK && (double)h->frames > h->stimulus.seconds * h->rate_hz &&
         !has_sound(h);
}

static void note_levels(const CwRecordedTake *h, const int *lead, CwAcceptedTake *take)
{
  take->unplaced = true;
  take->leads = h->channels;
  take->lead = g_new0(CwAcceptedLead, h->channels);
  for (size_t c = 0; c < h->channels; c++) {
    take->lead[c].lead = lead[c];
    cw_accepted_lead_levels(h->channel[c], h->frames, h->rate_hz, &take->lead[c]);
  }
}

/* --- what a recording shows of troubles --- */

#define FOREIGN_PART 1e-3 /* power: it changes the response there by 0.3 dB */

static void note(CwAcceptedTake *take, CwTrouble t, const int *lead)
{
  t.lead = lead && t.lead > 0 ? lead[t.lead - 1] : 0;
  if (take->troubles < CW_TAKE_TROUBLES)
    take->trouble[take->troubles++] = t;
}

/* The clock that recordings heard before tell; NAN for none. */
static double known_ppm(const CwLeadSurvey *survey)
{
  double weight = 0, ppm = NAN;

  for (guint t = 0; t < survey->takes->len; t++) {
    const CwAcceptedTake *take = &g_array_index(survey->takes, CwAcceptedTake, t);
    bool lost = false;
    for (size_t i = 0; i < take->troubles; i++)
      lost = lost || take->trouble[i].code == CW_TROUBLE_FRAMES_LOST;
    if (!lost && take->ppm_weight > weight) {
      weight = take->ppm_weight;
      ppm = take->player_ppm;
    }
  }
  return ppm;
}

static void note_foreign(const CwRecordedTake *h, const int *lead, CwAcceptedTake *take)
{
  const CwForeignSound *worst = NULL;
  size_t which = 0, sweep = 0;

  for (size_t c = 0; c < take->leads; c++)
    for (size_t s = 0; s < h->stimulus.sweeps; s++) {
      const CwForeignSound *f = &take->lead[c].foreign[s];
      double size = 0; /* of a lead that this sweep does not reach there is nothing to disturb */
      for (size_t k = 0; k < h->stimulus.sweeps; k++)
        for (size_t i = 0; i < CW_LEAD_POINTS; i++)
          size = fmax(size, k == s ? 0 : cabs(take->lead[c].response[k].value[i]));
      for (size_t i = 0; i < CW_LEAD_POINTS; i++)
        size = cabs(take->lead[c].response[s].value[i]) > 0.2 * size ? 0 : size;
      if (size == 0 && f->part > FOREIGN_PART && (!worst || f->part > worst->part)) {
        worst = f;
        which = c;
        sweep = s;
      }
    }
  if (!worst)
    return;
  const CwStimulusSweep *s = &h->stimulus.sweep[sweep];
  CwTrouble t = {CW_TROUBLE_FOREIGN_SOUND,
                 (int)take->kind,
                 (int)which + 1,
                 0,
                 NAN,
                 worst->hz,
                 10 * log10(worst->part),
                 NAN,
                 NAN,
                 false};
  t.seconds = h->place.start_frame / h->rate_hz + s->at_seconds +
              s->sweep.growth_seconds * log(worst->hz / s->sweep.start_hz) + worst->seconds;
  note(take, t, lead);
}

static void check(const CwLeadSurvey *survey, const CwRecordedTake *h, const int *lead, CwAcceptedTake *take)
{
  CwTrouble t;

  if (cw_check_recorder_clips(h, &t))
    note(take, t, lead);
  bool broken = cw_check_dropout(h, &t);
  if (broken)
    note(take, t, lead);
  bool lost = cw_check_clock(h, known_ppm(survey), &t);
  if (lost)
    note(take, t, lead);
  if (!broken && !lost) /* they tear sounds apart as a foreign one would */
    note_foreign(h, lead, take);
  if (cw_check_recorded_low(h, &t))
    note(take, t, lead);
  for (size_t c = 0; c < h->channels; c++)
    if (cw_check_whine(h, c, &t)) {
      t.lead = (int)c + 1;
      note(take, t, lead);
      break;
    }
}

/* The first trouble for which the take is to be recorded again; NULL for none. */
static CwTrouble *asks_again(CwAcceptedTake *take)
{
  for (size_t i = 0; i < take->troubles; i++)
    if (take->trouble[i].code <= CW_TROUBLE_RECORDER_CLIPS)
      return &take->trouble[i];
  return NULL;
}

/* Takes it in, or says why not. The take of the leads is taken in all the same: without it nothing can be
 * said, and what can, carries its doubt. */
static char *judge_take(CwLeadSurvey *survey, CwAcceptedTake *take)
{
  CwTrouble *again = asks_again(take);
  char *fault = again ? cw_trouble_say(again) : NULL;

  survey->told_as_trouble = again != NULL;
  if (again && take->kind != CW_STIMULUS_LEADS && again->code != CW_TROUBLE_RECORDED_LOW) {
    again->left_out = true;
    g_array_append_val(survey->left_out, *again);
    clear_take(take);
  } else {
    g_array_append_val(survey->takes, *take);
  }
  return fault;
}

bool cw_lead_survey_tells_trouble(const CwLeadSurvey *survey)
{
  return survey->told_as_trouble;
}

char *cw_lead_survey_accept(CwLeadSurvey *survey, const CwSurveyRecording *r)
{
  CwRecordedTake h = cw_recorded_take_new(r->kind, r->channel, r->channels, r->frames, r->rate_hz);
  bool faded = may_be_faded(&h, r->kind);
  char *fault = faded ? NULL : find_fault(&h, r->lead);

  survey->told_as_trouble = false;
  if (!fault) {
    CwAcceptedTake take = {.kind = r->kind,
                           .player_ppm = h.place.player_ppm,
                           .ppm_weight = faded ? 0 : h.place.weight,
                           .track_rate_hz = r->track_rate_hz,
                           .volume_step = r->volume_step,
                           .seat = g_strdup(r->seat)};
    if (faded) {
      note_levels(&h, r->lead, &take);
    } else {
      analyse(&h, r->lead, &take);
      check(survey, &h, r->lead, &take);
    }
    fault = judge_take(survey, &take);
  }
  cw_recorded_take_clear(&h);
  return fault;
}

static bool holds(const int *lead, size_t leads, int wanted)
{
  for (size_t i = 0; i < leads; i++)
    if (lead[i] == wanted)
      return true;
  return false;
}

void cw_lead_survey_forget(CwLeadSurvey *survey, CwStimulusKind kind, const char *seat, const int *lead,
                           size_t leads)
{
  for (guint t = survey->left_out->len; t-- > 0;)
    if (g_array_index(survey->left_out, CwTrouble, t).take == (int)kind)
      g_array_remove_index(survey->left_out, t);
  for (guint t = survey->takes->len; t-- > 0;) {
    const CwAcceptedTake *take = &g_array_index(survey->takes, CwAcceptedTake, t);
    bool all = take->kind == kind && g_strcmp0(take->seat, seat) == 0;
    for (size_t i = 0; i < take->leads && all; i++)
      all = holds(lead, leads, take->lead[i].lead);
    if (all)
      g_array_remove_index(survey->takes, t);
  }
}
