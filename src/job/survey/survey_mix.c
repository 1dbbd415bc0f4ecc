/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "job/survey/survey_mix.h"
#include "job/findings/review.h"
#include "processor/filter.h"
#include "survey/mix/sums.h"
#include <glib/gi18n-lib.h>
#include <math.h>

static double db_at(const CwNumbers *curve, guint point)
{
  double hz = cw_mix_hz(point);

  if (curve && point < curve->n_rows && fabs(cw_numbers_at(curve, point, 0) / hz - 1) < 1e-3)
    return cw_numbers_at(curve, point, 1);
  return NAN;
}

static void read_lead(CwRecord *record, CwMixLead *lead)
{
  const CwNumbers *response = cw_lead_get_response(record), *phase = cw_lead_get_phase(record);
  int polarity = cw_lead_get_polarity(record);
  gboolean all_pass = cw_lead_get_all_pass(record);
  guint known = 0;

  *lead = (CwMixLead){.lead = (int)cw_lead_get_lead(record),
                      .side = cw_lead_get_side(record),
                      .end = cw_lead_get_end(record),
                      .band = cw_lead_get_band(record),
                      .low_hz = cw_lead_get_low_hz(record),
                      .high_hz = cw_lead_get_high_hz(record),
                      .delay_seconds = 1e-3 * cw_lead_get_delay_ms(record),
                      .polarity = polarity == CW_POLARITY_INVERTED ? -1 : 1,
                      .all_pass_hz = all_pass ? cw_lead_get_all_pass_hz(record) : NAN,
                      .all_pass_q = all_pass ? cw_lead_get_all_pass_q(record) : NAN};
  for (guint i = 0; i < CW_SURVEY_POINTS; i++) {
    double db = db_at(response, i), degrees = db_at(phase, i);
    if (isnan(db) || isnan(degrees))
      continue;
    lead->value[i] = M_SQRT2 * pow(10, db / 20) * cexp(I * degrees * M_PI / 180);
    known++;
  }
  lead->usable = known > 0 && polarity >= 0 && lead->side >= 0 && !isnan(lead->delay_seconds) &&
                 !cw_lead_get_skipped(record);
  if (isnan(lead->delay_seconds))
    lead->delay_seconds = 0;
}

CwMixLead *cw_job_mix_leads(CwRecord *survey, gsize *leads)
{
  CwList *list = cw_survey_get_leads(survey);
  CwMixLead *lead = g_new0(CwMixLead, cw_list_get_length(list) + 1);

  *leads = cw_list_get_length(list);
  for (guint i = 0; i < *leads; i++)
    read_lead(cw_list_get(list, i), &lead[i]);
  return lead;
}

/* --- sums --- */

static char *name_leads(const CwMixLead *lead, const size_t *index, size_t count)
{
  GString *text = g_string_new(NULL);
  for (size_t k = 0; k < count; k++)
    g_string_append_printf(text, k ? " + %d" : "%d", lead[index[k]].lead);
  return g_string_free(text, FALSE);
}

static char *say_sum(const CwLeadsSum *s)
{
  switch (s->verdict) {
  case CW_SUM_ALONE:
    return g_strdup(_("One lead carries all that is needed"));
  case CW_SUM_ADDS:
    if (s->meet_octaves < 0.5)
      return g_strdup(_("The leads do not overlap: together they cover more"));
    return g_strdup_printf(_("The leads add up: %.1f dB is lost where they meet"), s->loss_db);
  case CW_SUM_COMB:
    return g_strdup_printf(
        _("Delay cuts holes: one lead comes %.2f ms after the other, which makes a hole every %.0f Hz"),
        1e3 * s->apart_seconds, 1 / s->apart_seconds);
  case CW_SUM_VANISHES:
    return g_strdup_printf(_("The leads cancel: opposite polarity takes %.1f dB away where they meet"),
                           s->loss_db);
  case CW_SUM_UNEVEN:
  default:
    return g_strdup_printf(_("The leads turn the phase differently: %.1f dB is lost where they meet"),
                           s->loss_db);
  }
}

static void write_sums(CwRecord *survey, const CwMixLead *lead, gsize leads, const CwMixChoice *mix)
{
  g_autofree CwLeadsSum *sum = g_new0(CwLeadsSum, CW_SUMS_MOST);
  size_t count = cw_sums_list(lead, leads, mix, sum);

  cw_list_clear(cw_survey_get_sums(survey));
  for (size_t i = 0; i < count; i++) {
    const CwLeadsSum *s = &sum[i];
    g_autofree char *name = name_leads(lead, s->index, s->count), *why = say_sum(s);
    CwRecord *record = cw_survey_add_to_sums(survey);
    double hz[CW_SURVEY_POINTS];
    int numbers[CW_MIX_MOST_PARTS];
    for (size_t k = 0; k < s->count; k++)
      numbers[k] = lead[s->index[k]].lead;
    for (size_t k = 0; k < CW_SURVEY_POINTS; k++)
      hz[k] = cw_mix_hz(k);
    cw_lead_sum_set_name(record, name);
    cw_lead_sum_take_leads(record, cw_numbers_new_whole((guint)s->count, numbers));
    cw_lead_sum_set_side(record, s->side);
    cw_lead_sum_set_low_hz(record, s->low_hz);
    cw_lead_sum_set_high_hz(record, s->high_hz);
    cw_lead_sum_set_loss_db(record, rint(100 * s->loss_db) / 100);
    cw_lead_sum_set_advised(record, s->advised);
    cw_lead_sum_set_why(record, why);
    cw_lead_sum_take_response(record, cw_numbers_new_curve(CW_SURVEY_POINTS, hz, s->db));
  }
}

/* --- correction --- */

static void write_section(CwRecord *input, const CwSection *s)
{
  CwRecord *section = cw_input_correction_add_to_sections(input);
  g_autofree char *why =
      s->kind == CW_SECTION_ALL_PASS
          ? g_strdup(
                _("Turns the phase as an all-pass of the radio turns another lead's, so that they add up"))
      : s->gain_db < 0 ? g_strdup_printf(_("Takes off the %.1f dB that the radio adds around %.0f Hz"),
                                         -s->gain_db, s->frequency_hz)
                       : g_strdup_printf(_("Gives back %.1f dB that the radio takes around %.0f Hz"),
                                         s->gain_db, s->frequency_hz);

  cw_filter_write(&(CwFilter){.use = CW_USE_CORRECTION,
                              .kind = s->kind,
                              .frequency_hz = s->frequency_hz,
                              .gain_db = s->gain_db,
                              .q = s->q},
                  section);
  cw_tune_section_set_why(section, why);
}

static void write_input(CwRecord *correction, gint64 number, const CwCorrectedInput *in,
                        const CwMixLead *lead, double rate_hz)
{
  CwRecord *input = cw_correction_add_to_inputs(correction), *mix;

  cw_input_correction_set_input(input, number);
  cw_input_correction_set_lead(input, lead[in->index].lead);
  mix = cw_input_correction_make_mix(input);
  cw_mix_set_left(mix, in->feeds[0]);
  cw_mix_set_right(mix, in->feeds[1]);
  cw_input_correction_set_gain_db(input, in->gain_db + 0.0); /* no -0 */
  cw_input_correction_set_polarity(input, in->inverted ? CW_POLARITY_INVERTED : CW_POLARITY_NORMAL);
  cw_input_correction_set_delay_samples(input, in->delay_samples);
  cw_input_correction_set_delay_ms(input, 1e3 * in->delay_samples / rate_hz);
  for (gsize s = 0; s < in->sections; s++)
    write_section(input, &in->section[s]);
}

/* Where the processor's delays do not reach far enough. */
static char *say_short(const CwMixChoice *choice, const CwSideMix *mix, const char *side, const char *leads)
{
  if (choice->arrival == CW_MIX_AS_THEY_COME)
    return g_strdup_printf(_("%s: leads %s, which together reach from %.0f to %.0f Hz, as they come, since "
                             "the processor's delays are too short to bring them together"),
                           side, leads, mix->low_hz, mix->high_hz);
  return g_strdup_printf(_("%s: leads %s, which together reach from %.0f to %.0f Hz, as near together as the "
                           "processor's delays bring them"),
                         side, leads, mix->low_hz, mix->high_hz);
}

static char *say_side(const CwMixLead *lead, const CwCorrectionPlan *plan, int side)
{
  const CwMixChoice *choice = &plan->mix;
  const CwSideMix *mix = &choice->side[side];
  size_t index[CW_MIX_MOST_PARTS];
  const char *words = side == CW_SIDE_LEFT ? _("Left") : _("Right");

  if (mix->parts == 0)
    return g_strdup_printf(_("%s: no lead of this side can be used"), words);
  for (size_t p = 0; p < mix->parts; p++)
    index[p] = mix->part[p].index;
  g_autofree char *leads = name_leads(lead, index, mix->parts);
  if (mix->parts == 1)
    return g_strdup_printf(_("%s: lead %s alone, which reaches from %.0f to %.0f Hz; another lead would add "
                             "nothing that is needed"),
                           words, leads, mix->low_hz, mix->high_hz);
  if (plan->wanted_seconds > 0)
    return say_short(choice, mix, words, leads);
  switch (choice->arrival) {
  case CW_MIX_SHIFTED:
    return g_strdup_printf(_("%s: leads %s, which together reach from %.0f to %.0f Hz, with the delays and "
                             "the polarity by which they add up where they meet"),
                           words, leads, mix->low_hz, mix->high_hz);
  case CW_MIX_AS_THEY_COME:
    return g_strdup_printf(_("%s: leads %s, which together reach from %.0f to %.0f Hz, as they come, since "
                             "the processor's inputs cannot be delayed"),
                           words, leads, mix->low_hz, mix->high_hz);
  case CW_MIX_TOGETHER:
  default:
    return g_strdup_printf(_("%s: leads %s, which together reach from %.0f to %.0f Hz, with equal delays and "
                             "the polarity in which they add up"),
                           words, leads, mix->low_hz, mix->high_hz);
  }
}

static void write_correction(CwRecord *survey, const CwMixLead *lead, const CwCorrectionPlan *plan,
                             double rate_hz)
{
  CwRecord *correction = cw_survey_make_correction(survey);
  g_autoptr(GPtrArray) why = g_ptr_array_new_with_free_func(g_free);

  cw_list_clear(cw_correction_get_inputs(correction));
  for (size_t k = 0; k < plan->inputs; k++)
    write_input(correction, (gint64)k + 1, &plan->input[k], lead, rate_hz);
  cw_correction_set_flatness_db(correction, plan->flat_db);
  cw_correction_set_worst_hz(correction, plan->worst_hz);
  cw_correction_set_low_hz(correction, plan->low_hz);
  cw_correction_set_high_hz(correction, plan->high_hz);
  cw_correction_set_delay_wanted_ms(correction, plan->wanted_seconds > 0 ? 1e3 * plan->wanted_seconds : NAN);
  for (int side = 0; side < 2; side++)
    g_ptr_array_add(why, say_side(lead, plan, side));
  if (plan->mix.all_passes)
    g_ptr_array_add(why, g_strdup(_("All-pass filters in some of the leads are matched in the others")));
  g_ptr_array_add(why, NULL);
  cw_correction_set_why(correction, (const char *const *)why->pdata);
}

void cw_job_mix_survey(CwRecord *survey, CwRecord *processor)
{
  gsize leads;
  g_autofree CwMixLead *lead = cw_job_mix_leads(survey, &leads);
  g_autofree CwCorrectionPlan *plan = g_new0(CwCorrectionPlan, 1);
  CwLimits limits = cw_limits_of_input(processor);

  cw_correct_leads(lead, leads, &limits, plan);
  write_sums(survey, lead, leads, &plan->mix);
  if (plan->inputs)
    write_correction(survey, lead, plan, limits.rate_hz);
  else
    cw_survey_set_correction(survey, NULL);
}

void cw_job_apply_correction(CwRecord *vehicle)
{
  CwRecord *survey = cw_vehicle_get_survey(vehicle),
           *correction = survey ? cw_survey_get_correction(survey) : NULL;
  CwRecord *tune = cw_vehicle_make_tune(vehicle);
  CwList *from = correction ? cw_correction_get_inputs(correction) : NULL, *to = cw_tune_get_inputs(tune);

  cw_list_clear(to);
  for (guint i = 0; from && i < cw_list_get_length(from); i++) {
    g_autoptr(CwRecord) input = cw_record_copy(cw_list_get(from, i));
    cw_list_append(to, input);
  }
  if (!cw_tune_has_sample_rate_hz(tune))
    cw_tune_set_sample_rate_hz(tune, cw_processor_get_sample_rate_hz(cw_vehicle_make_processor(vehicle)));
}

/* What the survey worked out for the input that a lead feeds, borrowed; NULL for none. */
static CwRecord *worked_out(CwRecord *vehicle, gint64 lead)
{
  CwRecord *survey = cw_vehicle_get_survey(vehicle),
           *correction = survey ? cw_survey_get_correction(survey) : NULL;
  return correction && lead != CW_NO_INTEGER ? cw_list_find_integer_at(cw_correction_get_inputs(correction),
                                                                       CW_INPUT_CORRECTION_FIELD_LEAD, lead)
                                             : NULL;
}

gboolean cw_job_redo_lead(CwRecord *vehicle, gint64 lead)
{
  CwRecord *survey = cw_vehicle_get_survey(vehicle), *tune = cw_vehicle_get_tune(vehicle);
  CwRecord *input =
      tune ? cw_list_find_integer_at(cw_tune_get_inputs(tune), CW_INPUT_CORRECTION_FIELD_LEAD, lead) : NULL;

  if (!survey || !input)
    return FALSE;
  cw_job_mix_survey(survey, cw_vehicle_get_processor(vehicle));
  CwRecord *model = worked_out(vehicle, lead);
  if (!model || cw_input_correction_get_input(model) != cw_input_correction_get_input(input))
    return FALSE;
  cw_record_assign(input, model);
  cw_job_review(vehicle);
  return TRUE;
}

gboolean cw_job_input_is_by_hand(CwRecord *vehicle, CwRecord *input)
{
  CwRecord *model = worked_out(vehicle, cw_input_correction_get_lead(input));
  return !model || !cw_record_equal(model, input);
}
