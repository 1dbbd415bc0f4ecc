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
  section = cw_tune_output_add_to_sections(output);
  cw_filter_write(&(CwFilter){.use = CW_USE_CROSSOVER,
                              .kind = kind,
                              .has_family = true,
                              .family = crossover->family,
                              .order = crossover->order,
                              .frequency_hz = crossover->corner_hz},
                  section);
  cw_tune_section_set_why(section, why);
}

static void write_high_pass(CwRecord *record, const CwCarOutput *output, const CwOutputSetting *s)
{
  g_autofree char *why =
      output->clean_hz > output->lowest_hz
          ? g_strdup_printf(_("Keeps the speaker above %.0f Hz, below which it distorts, %d dB per octave"),
                            output->clean_hz, 6 * s->high_pass.order)
          : g_strdup_printf(_("Keeps the speaker above its lowest safe frequency, %.0f Hz, %d dB per octave"),
                            output->lowest_hz, 6 * s->high_pass.order);
  write_crossover(record, &s->high_pass, CW_SECTION_HIGH_PASS, why);
}

static void write_low_pass(CwRecord *record, const CwOutputSetting *s)
{
  g_autofree char *why =
      g_strdup_printf(_("Crosses over to the next speaker up, %d dB per octave"), 6 * s->low_pass.order);
  write_crossover(record, &s->low_pass, CW_SECTION_LOW_PASS, why);
}

static char *say_why(const CwSection *s)
{
  bool boosts = s->gain_db > 0;

  switch (s->kind) {
  case CW_SECTION_ALL_PASS:
    return g_strdup_printf(
        _("Turns the phase around %.0f Hz, where this speaker and others would cancel at the seat"),
        s->frequency_hz);
  case CW_SECTION_LOW_SHELF:
    return g_strdup_printf(
        boosts ? _("Boosts everything below %.0f Hz by %.1f dB, where this speaker is too quiet")
               : _("Cuts everything below %.0f Hz by %.1f dB, where this speaker is too loud"),
        s->frequency_hz, fabs(s->gain_db));
  case CW_SECTION_HIGH_SHELF:
    return g_strdup_printf(
        boosts ? _("Boosts everything above %.0f Hz by %.1f dB, where this speaker is too quiet")
               : _("Cuts everything above %.0f Hz by %.1f dB, where this speaker is too loud"),
        s->frequency_hz, fabs(s->gain_db));
  default:
    return g_strdup_printf(boosts ? _("Boosts a broad dip around %.0f Hz by %.1f dB")
                                  : _("Cuts a peak of this speaker around %.0f Hz by %.1f dB"),
                           s->frequency_hz, fabs(s->gain_db));
  }
}

/* Of a filter of which no more is known than what it does. */
static char *say_what(const CwSection *s)
{
  if (s->kind != CW_SECTION_PEAKING)
    return say_why(s);
  return g_strdup_printf(s->gain_db > 0 ? _("Boosts %.1f dB around %.0f Hz")
                                        : _("Cuts %.1f dB around %.0f Hz"),
                         fabs(s->gain_db), s->frequency_hz);
}

/* What a filter does, by its values: where they change, its reason has to be said anew. */
static char *say_values(CwRecord *section)
{
  return g_strdup_printf("%d %.6g %.4g %.4g", (int)cw_tune_section_get_kind(section),
                         cw_tune_section_get_frequency_hz(section), cw_tune_section_get_gain_db(section),
                         cw_tune_section_get_q(section));
}

static void remember_values(CwRecord *section)
{
  g_autofree char *values = say_values(section);
  cw_tune_section_set_why_of(section, values);
}

void cw_tune_renew_reasons(CwRecord *tune)
{
  CwList *outputs = cw_tune_get_outputs(tune);

  for (guint i = 0; i < cw_list_get_length(outputs); i++) {
    CwList *sections = cw_tune_output_get_sections(cw_list_get(outputs, i));
    for (guint k = 0; k < cw_list_get_length(sections); k++) {
      CwRecord *section = cw_list_get(sections, k);
      const char *of = cw_tune_section_get_why_of(section);
      g_autofree char *values = say_values(section);
      if (!of || !*of || g_str_equal(of, values) || cw_tune_section_get_use(section) != CW_USE_CORRECTION)
        continue;
      CwFilter filter = cw_filter_read(section);
      g_autofree char *what =
                          say_what(&(CwSection){filter.kind, filter.frequency_hz, filter.gain_db, filter.q}),
                      *why = g_strdup_printf(_("%s. Changed by hand since the proposal"), what);
      cw_tune_section_set_why(section, why);
      cw_tune_section_set_why_of(section, values);
    }
  }
}

/* "1, 2, 5": the positions by their number at each seat, in the order in which they were measured. */
static char *say_positions(unsigned seen, gsize places, guint *count)
{
  GString *text = g_string_new(NULL);

  *count = 0;
  for (gsize p = 0; p < places && p < 8 * sizeof seen; p++)
    if (seen >> p & 1) {
      g_string_append_printf(text, "%s%d", *count ? ", " : "", (int)p + 1);
      (*count)++;
    }
  return g_string_free(text, FALSE);
}

static char *say_reason(const CwSection *s, const CwSectionReason *reason, gsize places)
{
  guint count;
  g_autofree char *positions = say_positions(reason->seen, places, &count),
                  *what = count ? say_why(s) : say_what(s);

  if (count == 0 && s->kind == CW_SECTION_PEAKING)
    return g_strdup_printf(
        _("%s, for the sum: the speaker by itself does not stand out there. Leaving it out costs %.2f dB"),
        what, reason->without_db);
  if (count == 0)
    return g_strdup_printf(_("%s. Leaving it out costs %.2f dB"), what, reason->without_db);
  return g_strdup_printf(_("%s. Seen at %u of %u positions (%s). Leaving it out costs %.2f dB"), what, count,
                         (guint)places, positions, reason->without_db);
}

static void write_section(CwRecord *output, const CwSection *s, const CwSectionReason *reason, gsize places)
{
  CwRecord *section = cw_tune_output_add_to_sections(output);
  g_autofree char *why = say_reason(s, reason, places);

  cw_filter_write(&(CwFilter){.use = CW_USE_CORRECTION,
                              .kind = s->kind,
                              .frequency_hz = s->frequency_hz,
                              .gain_db = s->gain_db,
                              .q = s->q},
                  section);
  cw_tune_section_set_why(section, why);
  remember_values(section);
}

/* Filters that stay as they are, with their words: crossovers of one kind, or what is locked. */
static void keep_section(CwRecord *output, CwRecord *section)
{
  g_autoptr(CwRecord) copy = cw_record_copy(section);
  cw_list_append(cw_tune_output_get_sections(output), copy);
}

static gboolean keep_crossover(CwRecord *output, CwRecord *before, CwSectionKind kind)
{
  CwList *sections = cw_tune_output_get_sections(before);

  for (guint i = 0; i < cw_list_get_length(sections); i++) {
    CwFilter filter = cw_filter_read(cw_list_get(sections, i));
    if (filter.use == CW_USE_CROSSOVER && filter.kind == kind)
      keep_section(output, cw_list_get(sections, i));
  }
  return TRUE;
}

static gboolean is_kept(CwRecord *section, gboolean every_filter)
{
  CwFilter filter = cw_filter_read(section);
  return filter.use != CW_USE_CROSSOVER && (every_filter || cw_tune_section_get_held(section));
}

/* The fixed sections of a hold came from these records, in their order. */
static void keep_filters(CwRecord *output, CwRecord *before, gsize fixed)
{
  CwList *sections = cw_tune_output_get_sections(before);
  guint locked = 0;

  for (guint i = 0; i < cw_list_get_length(sections); i++)
    locked += is_kept(cw_list_get(sections, i), FALSE);
  for (guint i = 0; i < cw_list_get_length(sections); i++)
    if (fixed > 0 && is_kept(cw_list_get(sections, i), fixed > locked))
      keep_section(output, cw_list_get(sections, i));
}

static CwRecord *make_output(const CwCarOutput *car_output, const CwOutputSetting *s,
                             const CwProposalHold *hold, const CwSectionReason *reason, gsize places,
                             CwRecord *before, double rate_hz)
{
  CwRecord *output = cw_record_new(cw_tune_output_get_type()), *mix = cw_tune_output_make_mix(output);
  unsigned held = hold && before ? hold->held : 0;
  gsize fixed = hold && before ? hold->fixed : 0;

  cw_tune_output_set_output(output, car_output->number);
  cw_mix_set_left(mix, car_output->mix[0]);
  cw_mix_set_right(mix, car_output->mix[1]);
  cw_tune_output_set_muted(output, car_output->role == CW_ROLE_OFF);
  cw_tune_output_set_gain_db(output, s->gain_db);
  cw_tune_output_set_polarity(output, s->inverted ? CW_POLARITY_INVERTED : CW_POLARITY_NORMAL);
  cw_tune_output_set_delay_samples(output, rint(1e6 * s->delay_seconds * rate_hz) / 1e6);
  cw_tune_output_set_delay_ms(output, 1e3 * s->delay_seconds);
  if (held & CW_FIT_GAIN)
    cw_tune_output_set_gain_db(output, cw_tune_output_get_gain_db(before));
  if (held & CW_FIT_DELAY) {
    cw_tune_output_set_delay_samples(output, cw_tune_output_get_delay_samples(before));
    cw_tune_output_set_delay_ms(output, cw_tune_output_get_delay_ms(before));
  }
  if (before)
    cw_tune_output_set_held(output, cw_tune_output_get_held(before));
  if (!(held & CW_FIT_HIGH_PASS) || !keep_crossover(output, before, CW_SECTION_HIGH_PASS))
    write_high_pass(output, car_output, s);
  if (!(held & CW_FIT_LOW_PASS) || !keep_crossover(output, before, CW_SECTION_LOW_PASS))
    write_low_pass(output, s);
  if (before)
    keep_filters(output, before, fixed);
  for (gsize k = fixed; k < s->sections; k++)
    write_section(output, &s->section[k], &reason[k], places);
  return output;
}

/* The outputs in use make way for those of the proposal, which may take over some of what they hold. */
static void write_outputs(CwRecord *tune, const CwCar *car, const CwProposal *proposal,
                          const CwProposalHold *hold, double rate_hz)
{
  CwList *outputs = cw_tune_get_outputs(tune);
  g_autoptr(GPtrArray) made = g_ptr_array_new_with_free_func(g_object_unref);

  for (gsize o = 0; o < proposal->outputs; o++)
    g_ptr_array_add(made, make_output(&car->output[o], &proposal->setting[o], hold ? &hold[o] : NULL,
                                      &proposal->reason[o * CW_SETTING_MOST_SECTIONS], car->places,
                                      cw_list_find_integer_at(outputs, CW_TUNE_OUTPUT_FIELD_OUTPUT,
                                                              car->output[o].number),
                                      rate_hz));
  cw_list_clear(outputs);
  for (guint o = 0; o < made->len; o++)
    cw_list_append(outputs, g_ptr_array_index(made, o));
}

static void write_holes(CwRecord *tune, const CwCar *car, const CwProposal *proposal)
{
  cw_list_clear(cw_tune_get_holes(tune));
  for (gsize i = 0; i < proposal->holes; i++) {
    const CwNull *hole = &proposal->hole[i];
    CwRecord *record = cw_tune_add_to_holes(tune);
    cw_tune_hole_set_side(record, hole->side == CW_SIDE_LEFT ? CW_SIDE_LEFT : CW_SIDE_RIGHT);
    cw_tune_hole_set_hz(record, hole->hz);
    cw_tune_hole_set_depth_db(record, hole->depth_db);
    cw_tune_hole_set_output(record, car->output[hole->output].number);
    cw_tune_hole_set_between(record, hole->between);
  }
}

void cw_job_write_tune(CwRecord *tune, const CwCar *car, const CwProposal *proposal,
                       const CwProposalHold *hold, double rate_hz)
{
  static const char *const names[] = {"side_db",         "both_db",      "match_db",
                                      "loss_db",         "free_side_db", "free_both_db",
                                      "delay_wanted_ms", "places_db",    "one_more_db"};
  const CwFitResult *r = &proposal->result;
  double figures[] = {r->side_db,
                      r->both_db,
                      r->match_db,
                      r->loss_db,
                      proposal->free_result.side_db,
                      proposal->free_result.both_db,
                      1e3 * proposal->delay_wanted_seconds,
                      proposal->places_db,
                      proposal->one_more_db};
  g_autofree char *now = cw_now_utc();

  cw_tune_set_sample_rate_hz(tune, rate_hz);
  write_outputs(tune, car, proposal, hold, rate_hz);
  write_holes(tune, car, proposal);
  cw_tune_take_figures(tune, cw_numbers_new_named(G_N_ELEMENTS(names), names, figures));
  cw_tune_set_made_utc(tune, now);
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

static gboolean append_filter(const CwFilter *filter, double rate_hz, CwOutputSetting *s, GError **error)
{
  CwCoefficients made[CW_CROSSOVER_MOST_SECTIONS];
  CwSection described[CW_CROSSOVER_MOST_SECTIONS];
  gsize count = cw_filter_expand(filter, rate_hz, made, described);

  if (count == 0)
    return cw_filter_refuse(filter, rate_hz, error);
  if (s->sections + count > CW_SETTING_MOST_SECTIONS)
    return cw_job_refuse(error, CW_JOB_ERROR_VEHICLE, "more than %d filters on one output",
                         CW_SETTING_MOST_SECTIONS);
  for (gsize k = 0; k < count; k++) {
    described[k].gain_db = isnan(described[k].gain_db) ? 0 : described[k].gain_db;
    described[k].q = isnan(described[k].q) ? 1 : described[k].q;
    s->section[s->sections++] = described[k];
  }
  return TRUE;
}

static gboolean read_sections(CwList *sections, double rate_hz, CwOutputSetting *s, GError **error)
{
  for (guint i = 0; sections && i < cw_list_get_length(sections); i++) {
    CwFilter filter = cw_filter_read(cw_list_get(sections, i));
    if (!filter.bypass && !read_crossover(&filter, s) && !append_filter(&filter, rate_hz, s, error))
      return FALSE;
  }
  return TRUE;
}

gboolean cw_job_read_setting(CwRecord *tune, CwRecord *output, double rate_hz, CwOutputSetting *setting,
                             GError **error)
{
  *setting = (CwOutputSetting){.gain_db = cw_tune_output_get_gain_db(output),
                               .delay_seconds = 1e-3 * cw_tune_output_get_delay_ms(output),
                               .inverted = cw_tune_output_get_polarity(output) == CW_POLARITY_INVERTED};
  return read_sections(cw_tune_output_get_sections(output), rate_hz, setting, error) &&
         read_sections(cw_tune_get_voicing(tune), rate_hz, setting, error);
}

gboolean cw_job_read_held(CwRecord *output, double rate_hz, gboolean every_filter, CwProposalHold *hold,
                          GError **error)
{
  CwList *sections = cw_tune_output_get_sections(output);

  hold->setting = (CwOutputSetting){.gain_db = cw_tune_output_get_gain_db(output),
                                    .delay_seconds = 1e-3 * cw_tune_output_get_delay_ms(output),
                                    .inverted = cw_tune_output_get_polarity(output) == CW_POLARITY_INVERTED};
  for (guint i = 0; i < cw_list_get_length(sections); i++) {
    CwFilter filter = cw_filter_read(cw_list_get(sections, i));
    if (filter.use == CW_USE_CROSSOVER)
      read_crossover(&filter, &hold->setting);
    else if (!filter.bypass && is_kept(cw_list_get(sections, i), every_filter) &&
             !append_filter(&filter, rate_hz, &hold->setting, error))
      return FALSE;
  }
  hold->fixed = hold->setting.sections;
  return TRUE;
}
