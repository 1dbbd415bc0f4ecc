/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "job/tuning/tune_record.h"
#include "job/job_error.h"
#include "processor/filter.h"
#include "vehicle/project/project.h"
#include <glib/gi18n-lib.h>
#include <math.h>

static void write_crossover(CwRecord *output, const CwCrossoverSetting *crossover, CwSectionKind kind,
                            const char *why)
{
  CwRecord *section;

  if (crossover->order == 0)
    return;
  section = cw_record_add_child(output, "sections");
  cw_filter_write(&(CwFilter){.use = CW_USE_CROSSOVER,
                              .kind = kind,
                              .has_family = true,
                              .family = crossover->family,
                              .order = crossover->order,
                              .frequency_hz = crossover->corner_hz},
                  section);
  cw_record_set_text(section, "why", why);
}

static void write_crossovers(CwRecord *record, const CwCarOutput *output, const CwOutputSetting *s)
{
  g_autofree char *protects =
      output->clean_hz > output->lowest_hz
          ? g_strdup_printf(_("Keeps the speaker above %.0f Hz, below which it distorts, %d dB an octave"),
                            output->clean_hz, 6 * s->high_pass.order)
          : g_strdup_printf(_("Keeps the speaker above its lowest safe frequency, %.0f Hz, %d dB an octave"),
                            output->lowest_hz, 6 * s->high_pass.order);
  g_autofree char *hands_over =
      g_strdup_printf(_("Hands over to the speaker above, %d dB an octave"), 6 * s->low_pass.order);

  write_crossover(record, &s->high_pass, CW_SECTION_HIGH_PASS, protects);
  write_crossover(record, &s->low_pass, CW_SECTION_LOW_PASS, hands_over);
}

static char *say_why(const CwSection *s)
{
  if (s->kind == CW_SECTION_ALL_PASS)
    return g_strdup_printf(
        _("Turns the phase around %.0f Hz, where this speaker and others would cancel at the seat"),
        s->frequency_hz);
  if (s->gain_db < 0)
    return g_strdup_printf(_("Takes %.1f dB off where this speaker stands out around %.0f Hz"), -s->gain_db,
                           s->frequency_hz);
  return g_strdup_printf(_("Lifts a broad dip around %.0f Hz by %.1f dB"), s->frequency_hz, s->gain_db);
}

static void write_section(CwRecord *output, const CwSection *s)
{
  CwRecord *section = cw_record_add_child(output, "sections");
  g_autofree char *why = say_why(s);

  cw_filter_write(&(CwFilter){.use = CW_USE_CORRECTION,
                              .kind = s->kind,
                              .frequency_hz = s->frequency_hz,
                              .gain_db = s->gain_db,
                              .q = s->q},
                  section);
  cw_record_set_text(section, "why", why);
}

static void write_output(CwRecord *tune, const CwCarOutput *car_output, const CwOutputSetting *s,
                         double rate_hz)
{
  CwRecord *output = cw_record_new(cw_tune_output_get_type()), *mix = cw_record_make_child(output, "mix");

  cw_record_set_integer(output, "output", car_output->number);
  cw_record_set_number(mix, "left", car_output->mix[0]);
  cw_record_set_number(mix, "right", car_output->mix[1]);
  cw_record_set_number(output, "gain_db", s->gain_db);
  cw_record_set_choice(output, "polarity", s->inverted ? CW_POLARITY_INVERTED : CW_POLARITY_NORMAL);
  cw_record_set_number(output, "delay_samples", 1e-6 * rint(1e6 * s->delay_seconds * rate_hz));
  cw_record_set_number(output, "delay_ms", 1e3 * s->delay_seconds);
  write_crossovers(output, car_output, s);
  for (gsize k = 0; k < s->sections; k++)
    write_section(output, &s->section[k]);
  cw_list_append(cw_record_get_children(tune, "outputs"), output);
  g_object_unref(output);
}

static void write_holes(CwRecord *tune, const CwCar *car, const CwProposal *proposal)
{
  cw_list_clear(cw_record_get_children(tune, "holes"));
  for (gsize i = 0; i < proposal->holes; i++) {
    const CwNull *hole = &proposal->hole[i];
    CwRecord *record = cw_record_add_child(tune, "holes");
    cw_record_set_choice(record, "side", hole->side == CW_CAR_LEFT ? CW_SIDE_LEFT : CW_SIDE_RIGHT);
    cw_record_set_number(record, "hz", hole->hz);
    cw_record_set_number(record, "depth_db", hole->depth_db);
    cw_record_set_integer(record, "output", car->output[hole->output].number);
    cw_record_set_boolean(record, "between", hole->between);
  }
}

void cw_job_write_tune(CwRecord *tune, const CwCar *car, const CwProposal *proposal, double rate_hz)
{
  static const char *const names[] = {"side_db",      "both_db",      "match_db",       "loss_db",
                                      "free_side_db", "free_both_db", "delay_wanted_ms"};
  const CwFitResult *r = &proposal->result;
  double figures[] = {r->side_db,
                      r->both_db,
                      r->match_db,
                      r->loss_db,
                      proposal->free_result.side_db,
                      proposal->free_result.both_db,
                      1e3 * proposal->delay_wanted_seconds};
  g_autofree char *now = cw_now_utc();

  cw_list_clear(cw_record_get_children(tune, "outputs"));
  cw_record_set_number(tune, "sample_rate_hz", rate_hz);
  for (gsize o = 0; o < proposal->outputs; o++)
    write_output(tune, &car->output[o], &proposal->setting[o], rate_hz);
  write_holes(tune, car, proposal);
  cw_record_take_numbers(tune, "figures", cw_numbers_new_named(G_N_ELEMENTS(names), names, figures));
  cw_record_set_text(tune, "made_utc", now);
}

/* --- and back --- */

static gboolean read_crossover(const CwFilter *filter, CwOutputSetting *s)
{
  CwCrossoverSetting *pass = filter->kind == CW_SECTION_HIGH_PASS  ? &s->high_pass
                             : filter->kind == CW_SECTION_LOW_PASS ? &s->low_pass
                                                                   : NULL;

  if (!pass || pass->order > 0 || filter->use != CW_USE_CROSSOVER)
    return FALSE;
  *pass = (CwCrossoverSetting){filter->family, filter->order, filter->frequency_hz};
  return TRUE;
}

static gboolean read_sections(CwList *sections, double rate_hz, CwOutputSetting *s, GError **error)
{
  for (guint i = 0; sections && i < cw_list_get_length(sections); i++) {
    CwFilter filter = cw_filter_read(cw_list_get(sections, i));
    CwCoefficients made[CW_CROSSOVER_MOST_SECTIONS];
    CwSection described[CW_CROSSOVER_MOST_SECTIONS];
    if (filter.bypass || read_crossover(&filter, s))
      continue;
    gsize count = cw_filter_expand(&filter, rate_hz, made, described);
    if (count == 0)
      return cw_filter_refuse(&filter, rate_hz, error);
    if (s->sections + count > CW_SETTING_MOST_SECTIONS)
      return cw_job_refuse(error, CW_JOB_ERROR_VEHICLE, "more than %d filters on one output",
                           CW_SETTING_MOST_SECTIONS);
    for (gsize k = 0; k < count; k++) {
      described[k].gain_db = isnan(described[k].gain_db) ? 0 : described[k].gain_db;
      described[k].q = isnan(described[k].q) ? 1 : described[k].q;
      s->section[s->sections++] = described[k];
    }
  }
  return TRUE;
}

gboolean cw_job_read_setting(CwRecord *tune, CwRecord *output, double rate_hz, CwOutputSetting *setting,
                             GError **error)
{
  *setting = (CwOutputSetting){.gain_db = cw_record_get_number(output, "gain_db"),
                               .delay_seconds = 1e-3 * cw_record_get_number(output, "delay_ms"),
                               .inverted = cw_record_get_choice(output, "polarity") == CW_POLARITY_INVERTED};
  return read_sections(cw_record_get_children(output, "sections"), rate_hz, setting, error) &&
         read_sections(cw_record_get_children(tune, "voicing"), rate_hz, setting, error);
}
