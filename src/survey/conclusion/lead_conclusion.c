/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "signal/sort.h"
#include "survey/survey_private.h"
#include <math.h>
#include <stdlib.h>
#include <string.h>

#define SILENT_SNR                                                                                           \
  10.0 /* amplitude over noise that a lead reaches over a third octave, or it carries nothing */
#define ONE_SIDED 0.02          /* power of one channel over the other's for a lead to be the other's alone */
#define TOLD_PART 0.03          /* noise over signal above which a point is not told: 0.26 dB */
#define HIGHEST_EDGE_HZ 18000.0 /* above, the filters of player and recorder show: no edge */
#define STEEPEST_STEP_DB 6.0    /* 72 dB an octave in 1/12 octave */
#define UNTOLD_VOLTS 1.0
#define MOST_DELAY_TURNS                                                                                     \
  (1.0 / 12) /* at the band's upper edge, of twice the delay's deviation: two equal leads that meet there    \
                lose 0.3 dB by it, and beyond it the delay is not told */
#define STEPS (CW_LEAD_PER_OCTAVE / 12)

/* --- the leads' responses from one or several recordings of the same take --- */

/* Brings a recording of the leads to the time and level of another that shares a lead with it. false where
 * none is shared. */
static bool join(const CwAcceptedTake *base, CwAcceptedTake *other)
{
  for (size_t i = 0; i < other->leads; i++) {
    const CwAcceptedLead *shared = cw_accepted_take_lead(base, other->lead[i].lead);
    CwLeadResponse a, b;
    double later, gain;
    if (!shared)
      continue;
    cw_accepted_lead_both(&other->lead[i], 2, &a);
    cw_accepted_lead_both(shared, 2, &b);
    if (!cw_lead_response_compare(&a, &b, &later, &gain))
      continue;
    for (size_t k = 0; k < other->leads; k++)
      for (int s = 0; s < 2; s++)
        cw_lead_response_move(&other->lead[k].response[s], 1 / gain, -later);
    return true;
  }
  return false;
}

static void append_lead(GArray *leads, const CwAcceptedLead *lead)
{
  for (guint i = 0; i < leads->len; i++)
    if (g_array_index(leads, CwAcceptedLead, i).lead == lead->lead)
      return;
  g_array_append_vals(leads, lead, 1);
}

static int by_number(gconstpointer a, gconstpointer b)
{
  return ((const CwAcceptedLead *)a)->lead - ((const CwAcceptedLead *)b)->lead;
}

/* All recordings of the leads under one seat setting as one take. timed tells, lead by lead, whether its time
 * belongs with the first's. */
static CwAcceptedTake *gather(const CwLeadSurvey *survey, const char *seat, GHashTable *timed)
{
  GArray *leads = g_array_new(FALSE, TRUE, sizeof(CwAcceptedLead));
  CwAcceptedTake *all = NULL;
  g_autofree bool *done = g_new0(bool, survey->takes->len + 1);
  bool moved = true;

  while (moved) {
    moved = false;
    for (guint t = 0; t < survey->takes->len; t++) {
      CwAcceptedTake *take = &g_array_index(survey->takes, CwAcceptedTake, t);
      if (done[t] || take->kind != CW_STIMULUS_LEADS || g_strcmp0(take->seat, seat) != 0)
        continue;
      if (all) {
        CwAcceptedTake so_far = *all;
        so_far.lead = (CwAcceptedLead *)(gpointer)leads->data;
        so_far.leads = leads->len;
        if (!join(&so_far, take))
          continue;
      } else {
        all = g_new0(CwAcceptedTake, 1);
        *all = *take;
      }
      done[t] = moved = true;
      for (size_t i = 0; i < take->leads; i++) {
        append_lead(leads, &take->lead[i]);
        g_hash_table_add(timed, GINT_TO_POINTER(take->lead[i].lead));
      }
    }
  }
  for (guint t = 0; all && t < survey->takes->len;
       t++) { /* those that share no lead: no time of theirs can be compared */
    CwAcceptedTake *take = &g_array_index(survey->takes, CwAcceptedTake, t);
    if (!done[t] && take->kind == CW_STIMULUS_LEADS && g_strcmp0(take->seat, seat) == 0)
      for (size_t i = 0; i < take->leads; i++)
        append_lead(leads, &take->lead[i]);
  }
  g_array_sort(leads, by_number);
  if (all) {
    all->leads = leads->len;
    all->lead = (CwAcceptedLead *)(gpointer)g_array_free(leads, FALSE);
    return all;
  }
  g_array_free(leads, TRUE);
  return NULL;
}

/* --- one lead --- */

/* Power in which a response stands above noise, each octave weighing the same, and its best amplitude over
 * noise on the mean of a third octave. */
static double power_of(const CwLeadResponse *r, double *best_snr)
{
  double sum = 0;
  enum { REACH = CW_LEAD_PER_OCTAVE / 3 };

  *best_snr = 0;
  for (size_t i = 0; i < CW_LEAD_POINTS; i++) {
    double size = cabs(r->value[i]), snr = INFINITY;
    if (cw_lead_hz(i) < 25 || cw_lead_hz(i) > 18000)
      continue;
    if (size > 4 * r->noise[i])
      sum += size * size;
    for (size_t k = i; k < i + REACH && k < CW_LEAD_POINTS; k++)
      snr = fmin(snr, cabs(r->value[k]) / (r->noise[k] + 1e-30));
    *best_snr = fmax(*best_snr, snr);
  }
  return sum;
}

static void choose_side(CwSurveyedLead *l, const CwAcceptedLead *heard, CwLeadResponse *own)
{
  double snr[2], power[2] = {power_of(&heard->response[0], &snr[0]), power_of(&heard->response[1], &snr[1])};

  l->silent = fmax(snr[0], snr[1]) < SILENT_SNR;
  l->side = CW_SURVEY_UNKNOWN;
  if (l->silent)
    return;
  if (power[1] < ONE_SIDED * power[0])
    l->side = CW_SIDE_LEFT;
  else if (power[0] < ONE_SIDED * power[1])
    l->side = CW_SIDE_RIGHT;
  else
    l->side = CW_SIDE_BOTH;
  if (l->side == CW_SIDE_BOTH)
    cw_accepted_lead_both(heard, 2, own);
  else
    *own = heard->response[l->side == CW_SIDE_RIGHT];
}

/* The level of the top: a tenth of the told points from 20 Hz stand above it. Points without a level count as
 * lowest. */
static double top_db(const double *db)
{
  double sorted[CW_SURVEY_POINTS], place = 0.9 * (CW_SURVEY_POINTS - 1);
  size_t below = (size_t)place;

  for (size_t i = 0; i < CW_SURVEY_POINTS; i++)
    sorted[i] = isnan(db[i]) ? -300 : db[i];
  cw_sort_rising(sorted, CW_SURVEY_POINTS);
  return sorted[below] + (place - (double)below) * (sorted[below + 1] - sorted[below]);
}

/* The edge between a point outside and its neighbour inside: where the line between them crosses the level,
 * and half a step further in, so that it is no further than that from either way of telling an edge, by the
 * crossing or by the first point inside. The half step is whole everywhere: were it cut off at the point
 * inside, a point that stands a hair over the level or under it would move the edge by half a step more. The
 * line is drawn from no deeper than a filter falls in a step: a wall, or a point that noise hides, does not
 * tell by its depth where within the step it stands. */
static double edge_hz(const double *db, size_t outside, size_t inside, double level)
{
  double hz_out = cw_lead_hz(CW_LEAD_BELOW + STEPS * outside),
         hz_in = cw_lead_hz(CW_LEAD_BELOW + STEPS * inside);
  double out = fmax(db[outside], level - STEEPEST_STEP_DB), part = (level - out) / (db[inside] - out);
  return hz_out * pow(hz_in / hz_out, part + 0.5);
}

void cw_survey_conclude_band(CwSurveyedLead *l)
{
  double level = top_db(l->response_dbv) - 6;
  size_t first = 0, last = CW_SURVEY_POINTS - 1;

  l->low_hz = l->high_hz = NAN;
  while (first < last && !(l->response_dbv[first] > level))
    first++;
  while (last > first && !(l->response_dbv[last] > level))
    last--;
  if (first > 0)
    l->low_hz = edge_hz(l->response_dbv, first - 1, first, level);
  if (last < CW_SURVEY_POINTS - 1)
    l->high_hz = edge_hz(l->response_dbv, last + 1, last, level);
  if (l->low_hz < 20 * exp2(1.0 / 12)) /* within a step of the end of what is measured */
    l->low_hz = NAN;
  if (l->high_hz > HIGHEST_EDGE_HZ)
    l->high_hz = NAN;
  l->band = l->low_hz > 900     ? CW_BAND_HIGH
            : l->high_hz < 250  ? CW_BAND_BASS
            : l->high_hz < 7000 ? CW_BAND_LOW
            : l->low_hz >= 130  ? CW_BAND_MID
                                : CW_BAND_FULL;
}

static void tell_response(CwSurveyedLead *l, const CwLeadResponse *own, double volts)
{
  for (size_t i = 0; i < CW_LEAD_POINTS; i++) {
    double size = cabs(own->value[i]);
    bool told = size > 0 && own->noise[i] < TOLD_PART * size;
    l->value[i] = own->noise[i] < 0.3 * size ? volts * own->value[i] : 0;
    if (i >= CW_LEAD_BELOW && (i - CW_LEAD_BELOW) % STEPS == 0 &&
        (i - CW_LEAD_BELOW) / STEPS < CW_SURVEY_POINTS)
      l->response_dbv[(i - CW_LEAD_BELOW) / STEPS] = told ? 20 * log10(size * volts / M_SQRT2) : NAN;
  }
}

static void conclude_lead(CwSurveyResult *r, CwSurveyedLead *l, const CwAcceptedLead *heard, double volts,
                          double track_rate_hz, bool timed)
{
  CwLeadResponse own;

  l->lead = heard->lead;
  l->band = l->end = CW_SURVEY_UNKNOWN;
  l->low_hz = l->high_hz = l->delay_seconds = l->delay_deviation_seconds = l->level_dbv = l->all_pass_hz =
      l->all_pass_q = l->clip_dbfs = l->clip_tone_hz = NAN;
  l->noise_dbv = 20 * log10(heard->noise_rms * volts + 1e-15);
  l->hum_dbv = heard->hum_rms > 0 ? 20 * log10(heard->hum_rms * volts) : NAN;
  for (size_t i = 0; i < CW_SURVEY_POINTS; i++)
    l->response_dbv[i] = NAN;
  choose_side(l, heard, &own);
  if (l->silent)
    return;
  cw_survey_conclude_mixed(r, l, heard, &own);
  tell_response(l, &own, volts);
  l->level_dbv = top_db(l->response_dbv);
  cw_survey_conclude_band(l);
  l->fit = cw_lead_fit(&own, track_rate_hz);
  l->delay_in_value = own.peak_seconds;
  if (!l->fit.known || !l->fit.sure)
    return;
  l->polarity = l->fit.polarity;
  l->all_pass = l->fit.all_pass;
  l->all_pass_hz = l->all_pass ? l->fit.all_pass_hz : NAN;
  l->all_pass_q = l->all_pass ? l->fit.all_pass_q : NAN;
  if (timed && 2 * l->fit.delay_deviation_seconds * (isnan(l->high_hz) ? HIGHEST_EDGE_HZ : l->high_hz) <
                   MOST_DELAY_TURNS) {
    l->delay_seconds = l->fit.delay_seconds;
    l->delay_deviation_seconds = l->fit.delay_deviation_seconds;
  }
}

/* --- all of it --- */

static double mean_ppm(const CwLeadSurvey *survey)
{
  double sum = 0, weight = 0;

  for (guint t = 0; t < survey->takes->len; t++) {
    const CwAcceptedTake *take = &g_array_index(survey->takes, CwAcceptedTake, t);
    bool lost = false;
    for (size_t i = 0; i < take->troubles; i++)
      lost = lost || take->trouble[i].code == CW_TROUBLE_FRAMES_LOST;
    sum += lost ? 0 : take->ppm_weight * take->player_ppm;
    weight += lost ? 0 : take->ppm_weight;
  }
  return weight > 0 ? sum / weight : NAN;
}

static void count_from_earliest(CwSurveyResult *r)
{
  double earliest = INFINITY;

  for (size_t i = 0; i < r->leads; i++)
    if (!isnan(r->lead[i].delay_seconds))
      earliest = fmin(earliest, r->lead[i].delay_seconds);
  for (size_t i = 0; i < r->leads && isfinite(earliest); i++) {
    r->lead[i].delay_seconds -= earliest;
    r->lead[i].delay_in_value -= earliest;
  }
}

/* What the troubles of the take of the leads leave of its figures. */
static void spread_doubt(CwSurveyResult *r)
{
  for (size_t k = 0; k < r->troubles; k++) {
    const CwTrouble *t = &r->trouble[k];
    bool response = t->code == CW_TROUBLE_DROPOUT || t->code == CW_TROUBLE_FOREIGN_SOUND ||
                    t->code == CW_TROUBLE_RECORDER_CLIPS || t->code == CW_TROUBLE_RECORDED_LOW ||
                    t->code == CW_TROUBLE_LIMITER || t->code == CW_TROUBLE_FRAMES_LOST;
    for (size_t i = 0; i < r->leads && t->take == CW_STIMULUS_LEADS; i++) {
      if (response || (t->code == CW_TROUBLE_TAKES_DISAGREE && t->lead == r->lead[i].lead))
        r->lead[i].doubt |= CW_DOUBT_OF_RESPONSE | CW_DOUBT_SIDE;
      else if (t->code == CW_TROUBLE_LEVEL || t->code == CW_TROUBLE_RECORDER_GAIN)
        r->lead[i].doubt |= CW_DOUBT_LEVEL;
    }
    if (t->take == CW_STIMULUS_LEADS && t->code == CW_TROUBLE_FRAMES_LOST)
      r->doubt |= CW_DOUBT_CLOCK;
    if (t->take == CW_STIMULUS_LEADS && (response || t->code == CW_TROUBLE_LEVEL))
      r->doubt |= CW_DOUBT_CLEAN | CW_DOUBT_LOUDNESS;
    for (size_t i = 0; i < r->leads; i++)
      if (t->lead == r->lead[i].lead && (t->code == CW_TROUBLE_WHINE || t->code == CW_TROUBLE_STEERED))
        r->lead[i].doubt |= CW_DOUBT_OF_RESPONSE;
  }
}

static void gather_troubles(const CwLeadSurvey *survey, CwSurveyResult *r)
{
  for (guint t = 0; t < survey->left_out->len; t++)
    cw_survey_add_trouble(r, &g_array_index(survey->left_out, CwTrouble, t));
  for (guint t = 0; t < survey->takes->len; t++) {
    const CwAcceptedTake *take = &g_array_index(survey->takes, CwAcceptedTake, t);
    for (size_t i = 0; i < take->troubles; i++)
      cw_survey_add_trouble(r, &take->trouble[i]);
  }
}

static bool is_told(const CwSurveyResult *r, CwTroubleCode code, int take)
{
  for (size_t i = 0; i < r->troubles; i++)
    if (r->trouble[i].code == code && r->trouble[i].take == take)
      return true;
  return false;
}

/* With frames lost nothing is left of the leads' times, and of what the phase says. */
static void forget_times(CwSurveyResult *r)
{
  for (size_t i = 0; i < r->leads; i++) {
    CwSurveyedLead *l = &r->lead[i];
    l->delay_seconds = l->delay_deviation_seconds = l->all_pass_hz = l->all_pass_q = NAN;
    l->all_pass = false;
    l->polarity = 0;
  }
}

static CwSurveyResult *conclude_setting(CwLeadSurvey *survey, const char *seat)
{
  g_autoptr(GHashTable) timed = g_hash_table_new(NULL, NULL);
  CwAcceptedTake *main = gather(survey, seat, timed);
  double volts = isnan(survey->volts_per_full_scale) ? UNTOLD_VOLTS : survey->volts_per_full_scale;
  CwSurveyResult *r;

  if (!main)
    return NULL;
  r = g_new0(CwSurveyResult, 1);
  r->seat = g_strdup(seat);
  r->seat_side = CW_SURVEY_UNKNOWN;
  r->volts_per_full_scale = volts;
  r->volts_untold = isnan(survey->volts_per_full_scale);
  r->player_ppm = mean_ppm(survey);
  r->leads = main->leads;
  r->lead = g_new0(CwSurveyedLead, main->leads);
  r->limit_dbfs = NAN;
  gather_troubles(survey, r);
  cw_survey_reconcile(survey, main, r);
  gather_troubles(survey, r); /* exchanged channels stay with their take */
  for (size_t i = 0; i < main->leads; i++)
    conclude_lead(r, &r->lead[i], &main->lead[i], volts, main->track_rate_hz,
                  g_hash_table_contains(timed, GINT_TO_POINTER(main->lead[i].lead)));
  if (is_told(r, CW_TROUBLE_FRAMES_LOST, CW_STIMULUS_LEADS))
    forget_times(r);
  count_from_earliest(r);
  cw_survey_conclude_ends(survey, main, r);
  cw_survey_conclude_volumes(survey, main, r);
  spread_doubt(r);
  g_free(main->lead);
  g_free(main);
  return r;
}

CwSurveyResult *cw_lead_survey_conclude(CwLeadSurvey *survey)
{
  CwSurveyResult *first = NULL;
  const char *seat = NULL, *other_seat = NULL;

  for (guint t = 0; t < survey->takes->len; t++) {
    const CwAcceptedTake *take = &g_array_index(survey->takes, CwAcceptedTake, t);
    if (take->kind != CW_STIMULUS_LEADS)
      continue;
    if (!seat ||
        g_str_equal(take->seat, "all")) /* the setting that delays nothing, if it is there, is what counts */
      seat = take->seat;
  }
  for (guint t = 0; seat && t < survey->takes->len; t++) {
    const CwAcceptedTake *take = &g_array_index(survey->takes, CwAcceptedTake, t);
    if (take->kind == CW_STIMULUS_LEADS && g_strcmp0(take->seat, seat) != 0)
      other_seat = take->seat;
  }
  if (!seat)
    return NULL;
  first = conclude_setting(survey, seat);
  CwSurveyResult *other = other_seat ? conclude_setting(survey, other_seat) : NULL;
  first->other_seat = other ? g_strdup(other_seat) : NULL;
  cw_survey_conclude_seat(first, other);
  cw_survey_result_free(other);
  return first;
}

void cw_survey_result_free(CwSurveyResult *r)
{
  if (!r)
    return;
  g_free(r->seat);
  g_free(r->other_seat);
  g_free(r->lead);
  g_free(r);
}
