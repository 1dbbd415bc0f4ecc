/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "job/survey_curves.h"

#include "handover/table.h"
#include "job/survey_mix.h"

#include <complex.h>
#include <math.h>

static CwList *inputs_of(CwRecord *survey)
{
  CwRecord *correction = cw_record_get_child(survey, "correction");
  return correction ? cw_record_get_children(correction, "inputs") : NULL;
}

CwRecord *cw_job_find_corrected_input(CwRecord *survey, gint64 lead)
{
  CwList *inputs = inputs_of(survey);
  return inputs ? cw_list_find_integer(inputs, "lead", lead) : NULL;
}

/* What an input does at every frequency, delay left out. */
static void respond(CwRecord *input, double rate_hz, const double *hz, guint count, CwComplex *response)
{
  CwList *sections = cw_record_get_children(input, "sections");
  double gain = pow(10, cw_record_get_number(input, "gain_db") / 20);
  if (cw_record_get_choice(input, "polarity") == CW_POLARITY_INVERTED)
    gain = -gain;
  for (guint i = 0; i < count; i++)
    response[i] = gain;
  for (guint s = 0; s < cw_list_get_length(sections); s++) {
    CwRecord *section = cw_list_get(sections, s);
    CwTableSection expanded[CW_TABLE_SECTION_MOST];
    guint parts =
        cw_record_get_boolean(section, "bypass") ? 0 : cw_table_expand(section, rate_hz, expanded, NULL);
    for (guint k = 0; k < parts; k++)
      cw_cascade_response(&expanded[k].c, 1, rate_hz, hz, count, true, response);
  }
}

CwNumbers *cw_job_corrected_lead(CwRecord *survey, CwRecord *lead, double rate_hz)
{
  CwRecord *input = cw_job_find_corrected_input(survey, cw_record_get_integer(lead, "lead"));
  const CwNumbers *measured = cw_record_get_numbers(lead, "response");
  guint count = measured ? measured->n_rows : 0;
  if (!input || !count)
    return NULL;
  g_autofree double *hz = g_new(double, count), *db = g_new(double, count);
  g_autofree CwComplex *response = g_new(CwComplex, count);
  for (guint i = 0; i < count; i++)
    hz[i] = cw_numbers_at(measured, i, 0);
  respond(input, rate_hz, hz, count, response);
  for (guint i = 0; i < count; i++)
    db[i] = cw_numbers_at(measured, i, 1) + 20 * log10(cabs(response[i]));
  return cw_numbers_new_curve(count, hz, db);
}

/* Adds one input's lead to the side's sum. */
static void add_input(CwRecord *input, const CwMixLead *lead, double rate_hz, const double *hz,
                      CwComplex *sum)
{
  CwComplex response[CW_SURVEY_POINTS];
  double delay_seconds = lead->delay_seconds + cw_record_get_number(input, "delay_samples") / rate_hz;
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

CwNumbers *cw_job_corrected_side(CwRecord *survey, int side, double rate_hz)
{
  CwList *inputs = inputs_of(survey);
  CwComplex sum[CW_SURVEY_POINTS] = {0};
  double hz[CW_SURVEY_POINTS], db[CW_SURVEY_POINTS];
  gsize count;
  g_autofree CwMixLead *leads = cw_job_mix_leads(survey, &count);
  gboolean any = FALSE;
  for (guint i = 0; i < CW_SURVEY_POINTS; i++)
    hz[i] = cw_mix_hz(i);
  for (guint i = 0; inputs && i < cw_list_get_length(inputs); i++) {
    CwRecord *input = cw_list_get(inputs, i), *mix = cw_record_get_child(input, "mix");
    const CwMixLead *lead = find_lead(leads, count, cw_record_get_integer(input, "lead"));
    if (!lead || !mix || cw_record_get_number(mix, side == CW_SIDE_LEFT ? "left" : "right") == 0)
      continue;
    add_input(input, lead, rate_hz, hz, sum);
    any = TRUE;
  }
  for (guint i = 0; i < CW_SURVEY_POINTS; i++)
    db[i] = cabs(sum[i]) > 0 ? 20 * log10(cabs(sum[i]) / M_SQRT2) : (double)NAN;
  return any ? cw_numbers_new_curve(CW_SURVEY_POINTS, hz, db) : NULL;
}
