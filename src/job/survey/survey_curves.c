/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "job/survey/survey_curves.h"

#include "job/survey/survey_mix.h"
#include "processor/filter.h"
#include "survey/mix/correction_fit.h"

#include <complex.h>
#include <math.h>

#define RATE_HZ 48000.0 /* where the sheet says nothing */

static CwList *inputs_of(CwRecord *vehicle)
{
  CwRecord *tune = cw_vehicle_get_tune(vehicle);
  return tune ? cw_tune_get_inputs(tune) : NULL;
}

static double rate_of(CwRecord *vehicle)
{
  CwRecord *tune = cw_vehicle_get_tune(vehicle), *processor = cw_vehicle_get_processor(vehicle);
  double rate_hz = tune ? cw_tune_get_sample_rate_hz(tune) : (double)NAN;
  if (isnan(rate_hz) && processor)
    rate_hz = cw_processor_get_sample_rate_hz(processor);
  return isnan(rate_hz) ? RATE_HZ : rate_hz;
}

CwRecord *cw_job_find_corrected_input(CwRecord *vehicle, gint64 lead)
{
  CwList *inputs = inputs_of(vehicle);
  return inputs ? cw_list_find_integer_at(inputs, CW_INPUT_CORRECTION_FIELD_LEAD, lead) : NULL;
}

/* What an input does at every frequency, delay left out. */
static void respond(CwRecord *input, double rate_hz, const double *hz, guint count, CwComplex *response)
{
  CwList *sections = cw_input_correction_get_sections(input);
  double gain = pow(10, cw_input_correction_get_gain_db(input) / 20);
  if (cw_input_correction_get_polarity(input) == CW_POLARITY_INVERTED)
    gain = -gain;
  for (guint i = 0; i < count; i++)
    response[i] = gain;
  for (guint s = 0; s < cw_list_get_length(sections); s++) {
    CwCoefficients expanded[CW_CROSSOVER_MOST_SECTIONS];
    CwFilter filter = cw_filter_read(cw_list_get(sections, s));
    gsize parts = filter.bypass ? 0 : cw_filter_expand(&filter, rate_hz, expanded, NULL);
    if (parts)
      cw_cascade_response(expanded, parts, rate_hz, hz, count, true, response);
  }
}

CwNumbers *cw_job_corrected_lead(CwRecord *vehicle, CwRecord *lead)
{
  CwRecord *input = cw_job_find_corrected_input(vehicle, cw_lead_get_lead(lead));
  const CwNumbers *measured = cw_lead_get_response(lead);
  guint count = measured ? measured->n_rows : 0;
  if (!input || !count)
    return NULL;
  g_autofree double *hz = g_new(double, count), *db = g_new(double, count);
  g_autofree CwComplex *response = g_new(CwComplex, count);
  for (guint i = 0; i < count; i++)
    hz[i] = cw_numbers_at(measured, i, 0);
  respond(input, rate_of(vehicle), hz, count, response);
  for (guint i = 0; i < count; i++)
    db[i] = cw_numbers_at(measured, i, 1) + 20 * log10(cabs(response[i]));
  return cw_numbers_new_curve(count, hz, db);
}

/* Adds one input's lead to the side's sum. */
static void add_input(CwRecord *input, const CwMixLead *lead, double rate_hz, const double *hz,
                      CwComplex *sum)
{
  CwComplex response[CW_SURVEY_POINTS];
  double delay_seconds = lead->delay_seconds + cw_input_correction_get_delay_samples(input) / rate_hz;
  respond(input, rate_hz, hz, CW_SURVEY_POINTS, response);
  for (guint i = 0; i < CW_SURVEY_POINTS; i++)
    sum[i] += response[i] * lead->value[i] * cexp(-2 * M_PI * I * hz[i] * delay_seconds);
}

static const CwMixLead *find_lead(const CwMixLead *leads, gsize count, gint64 lead)
{
  for (gsize i = 0; i < count; i++)
    if (leads[i].lead == lead)
      return &leads[i];
  return NULL;
}

/* The side's sum, CW_SURVEY_POINTS of them, in dB; FALSE where nothing feeds it. */
static gboolean add_side(CwRecord *vehicle, int side, double *hz, double *db)
{
  CwRecord *survey = cw_vehicle_get_survey(vehicle);
  CwList *inputs = inputs_of(vehicle);
  CwComplex sum[CW_SURVEY_POINTS] = {0};
  double rate_hz = rate_of(vehicle);
  gsize count = 0;
  g_autofree CwMixLead *leads = survey ? cw_job_mix_leads(survey, &count) : NULL;
  gboolean any = FALSE;
  for (guint i = 0; i < CW_SURVEY_POINTS; i++)
    hz[i] = cw_mix_hz(i);
  for (guint i = 0; inputs && i < cw_list_get_length(inputs); i++) {
    CwRecord *input = cw_list_get(inputs, i), *mix = cw_input_correction_get_mix(input);
    const CwMixLead *lead = find_lead(leads, count, cw_input_correction_get_lead(input));
    if (!lead || !mix || (side == CW_SIDE_LEFT ? cw_mix_get_left(mix) : cw_mix_get_right(mix)) == 0)
      continue;
    add_input(input, lead, rate_hz, hz, sum);
    any = TRUE;
  }
  for (guint i = 0; i < CW_SURVEY_POINTS; i++)
    db[i] = cabs(sum[i]) > 0 ? 20 * log10(cabs(sum[i]) / M_SQRT2) : (double)NAN;
  return any;
}

CwNumbers *cw_job_corrected_side(CwRecord *vehicle, int side)
{
  double hz[CW_SURVEY_POINTS], db[CW_SURVEY_POINTS];
  return add_side(vehicle, side, hz, db) ? cw_numbers_new_curve(CW_SURVEY_POINTS, hz, db) : NULL;
}

static size_t point_at(double hz)
{
  return (size_t)CLAMP(lrint(12 * log2(hz / 20)), 0, CW_SURVEY_POINTS - 1);
}

double cw_job_corrected_flatness_db(CwRecord *vehicle)
{
  CwRecord *survey = cw_vehicle_get_survey(vehicle),
           *correction = survey ? cw_survey_get_correction(survey) : NULL;
  double low_hz = correction ? cw_correction_get_low_hz(correction) : (double)NAN,
         high_hz = correction ? cw_correction_get_high_hz(correction) : (double)NAN, worst = NAN;
  double hz[CW_SURVEY_POINTS], db[CW_SURVEY_POINTS], level;
  for (int side = CW_SIDE_LEFT; high_hz > low_hz && side <= CW_SIDE_RIGHT; side++)
    if (add_side(vehicle, side, hz, db)) {
      double deviation = cw_flat_worst_db(db, point_at(low_hz), point_at(high_hz), &level, NULL);
      if (isfinite(level)) /* else a lead is not known somewhere within */
        worst = fmax(worst, deviation);
    }
  return worst;
}
