/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "job/tuning/tune_record.h"
#include "handover/table.h"
#include "job/job_error.h"
#include "vehicle/project/project.h"
#include <glib/gi18n-lib.h>
#include <math.h>

static void write_crossover(CwRecord *output, const CwCrossoverSetting *crossover, int shape, const char *why)
{
  CwRecord *section;

  if (crossover->order == 0)
    return;
  section = cw_record_add_child(output, "sections");
  cw_record_set_choice(section, "use", CW_USE_CROSSOVER);
  cw_record_set_choice(section, "kind", shape);
  cw_record_set_choice(section, "family",
                       crossover->family == CW_FILTER_LINKWITZ_RILEY ? CW_FAMILY_LINKWITZ_RILEY
                       : crossover->family == CW_FILTER_BUTTERWORTH  ? CW_FAMILY_BUTTERWORTH
                                                                     : CW_FAMILY_BESSEL);
  cw_record_set_integer(section, "order", crossover->order);
  cw_record_set_number(section, "frequency_hz", crossover->corner_hz);
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

  write_crossover(record, &s->high_pass, CW_SHAPE_HIGH_PASS, protects);
  write_crossover(record, &s->low_pass, CW_SHAPE_LOW_PASS, hands_over);
}

static void write_all_pass(CwRecord *output, const CwSection *s)
{
  CwRecord *section = cw_record_add_child(output, "sections");
  g_autofree char *why = g_strdup_printf(
      _("Turns the phase around %.0f Hz, where this speaker and others would cancel at the seat"),
      s->frequency_hz);

  cw_record_set_choice(section, "use", CW_USE_CORRECTION);
  cw_record_set_choice(section, "kind", CW_SHAPE_ALL_PASS);
  cw_record_set_number(section, "frequency_hz", s->frequency_hz);
  cw_record_set_number(section, "q", s->q);
  cw_record_set_text(section, "why", why);
}

static void write_section(CwRecord *output, const CwSection *s)
{
  if (s->kind == CW_SECTION_ALL_PASS) {
    write_all_pass(output, s);
    return;
  }
  CwRecord *section = cw_record_add_child(output, "sections");
  g_autofree char *why =
      s->gain_db < 0
          ? g_strdup_printf(_("Takes %.1f dB off where this speaker stands out around %.0f Hz"), -s->gain_db,
                            s->frequency_hz)
          : g_strdup_printf(_("Lifts a broad dip around %.0f Hz by %.1f dB"), s->frequency_hz, s->gain_db);

  cw_record_set_choice(section, "use", CW_USE_CORRECTION);
  cw_record_set_choice(section, "kind", CW_SHAPE_PEAKING);
  cw_record_set_number(section, "frequency_hz", s->frequency_hz);
  cw_record_set_number(section, "gain_db", s->gain_db);
  cw_record_set_number(section, "q", s->q);
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

/* --- and back
 * -----------------------------------------------------------------------------------------------------------
 */

static gboolean read_crossover(CwRecord *section, CwOutputSetting *s)
{
  int shape = cw_record_get_choice(section, "kind");
  CwCrossoverSetting *pass = shape == CW_SHAPE_HIGH_PASS  ? &s->high_pass
                             : shape == CW_SHAPE_LOW_PASS ? &s->low_pass
                                                          : NULL;

  if (!pass || pass->order > 0 || cw_record_get_choice(section, "use") != CW_USE_CROSSOVER)
    return FALSE;
  static const CwFilterFamily families[] = {CW_FILTER_BUTTERWORTH, CW_FILTER_LINKWITZ_RILEY,
                                            CW_FILTER_BESSEL};
  int family =
      cw_record_is_known(section, "family") ? cw_record_get_choice(section, "family") : CW_FAMILY_BUTTERWORTH;
  pass->family = families[family];
  pass->order = (int)cw_record_get_integer(section, "order");
  pass->corner_hz = cw_record_get_number(section, "frequency_hz");
  return TRUE;
}

static gboolean read_sections(CwList *sections, double rate_hz, CwOutputSetting *s, GError **error)
{
  for (guint i = 0; sections && i < cw_list_get_length(sections); i++) {
    CwRecord *section = cw_list_get(sections, i);
    CwTableSection expanded[CW_TABLE_SECTION_MOST];
    if (cw_record_get_boolean(section, "bypass") || read_crossover(section, s))
      continue;
    guint count = cw_table_expand(section, rate_hz, expanded, error);
    if (count == 0)
      return FALSE;
    if (s->sections + count > CW_SETTING_MOST_SECTIONS)
      return cw_job_refuse(error, CW_JOB_ERROR_VEHICLE, "more than %d filters on one output",
                           CW_SETTING_MOST_SECTIONS);
    for (guint k = 0; k < count; k++)
      s->section[s->sections++] = (CwSection){
          cw_section_kind_from_name(expanded[k].kind), expanded[k].frequency_hz,
          isnan(expanded[k].gain_db) ? 0 : expanded[k].gain_db, isnan(expanded[k].q) ? 1 : expanded[k].q};
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
