/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "job/tune.h"
#include "job/measured_car.h"
#include "job/review.h"
#include "tuning/proposal.h"
#include <glib/gi18n-lib.h>
#include <math.h>

struct CwTuneWork {
  CwCar *car;
  CwProposal *proposal;
  char *seat; /* NULL for all */
  double *target_hz, *target_db;
  gsize target_count;
  CwFitLimits limits;
  double delay_most_ms, delay_step, gain_step_db, q_step, steps_per_octave; /* of the processor; NAN for any */
  CwProgress progress;
  gpointer progress_data;
  GCancellable *cancellable;
};

static void read_target(CwRecord *vehicle, CwTuneWork *work)
{
  const CwNumbers *target = cw_record_get_numbers(vehicle, "target");

  work->target_count = target ? target->n_rows : 0;
  work->target_hz = g_new(double, work->target_count + 1);
  work->target_db = g_new(double, work->target_count + 1);
  for (guint i = 0; i < work->target_count; i++) {
    work->target_hz[i] = cw_numbers_at(target, i, 0);
    work->target_db[i] = cw_numbers_at(target, i, 1);
  }
}

static void read_limits(CwRecord *vehicle, CwTuneWork *work)
{
  CwRecord *processor = cw_record_get_child(vehicle, "processor");
  const CwNumbers *gain = cw_record_get_numbers(processor, "section_gain_db"), *q = cw_record_get_numbers(processor, "q");

  work->limits.rate_hz = cw_record_get_number(processor, "sample_rate_hz");
  work->limits.sections = (gsize)MIN(cw_record_get_integer(processor, "sections_per_output"), CW_SETTING_MOST_SECTIONS);
  work->limits.section_gain_least_db = cw_numbers_at(gain, 0, 0);
  work->limits.section_gain_most_db = fmin(cw_numbers_at(gain, 1, 0), 6);
  work->limits.q_least = cw_numbers_at(q, 0, 0);
  work->limits.q_most = cw_numbers_at(q, 1, 0);
  work->delay_most_ms = cw_record_get_number(processor, "delay_ms_most");
  work->delay_step = cw_record_get_number(processor, "delay_step_samples");
  work->gain_step_db = cw_record_get_number(processor, "gain_step_db");
  work->q_step = cw_record_get_number(processor, "q_step");
  work->steps_per_octave = cw_record_get_number(processor, "frequency_steps_per_octave");
}

CwTuneWork *cw_tune_work_new(CwProject *project, const char *seat, GError **error)
{
  CwRecord *vehicle = cw_project_get_vehicle(project);
  CwCar *car = cw_job_measured_car(project, seat, 0, error);
  CwTuneWork *work;

  if (!car)
    return NULL;
  work = g_new0(CwTuneWork, 1);
  work->car = car;
  work->seat = g_strdup(seat);
  read_target(vehicle, work);
  read_limits(vehicle, work);
  return work;
}

void cw_tune_work_free(CwTuneWork *work)
{
  if (!work)
    return;
  cw_car_free(work->car);
  cw_proposal_free(work->proposal);
  g_free(work->seat);
  g_free(work->target_hz);
  g_free(work->target_db);
  g_free(work);
}

static bool is_cancelled(void *data)
{
  CwTuneWork *work = data;
  return work->cancellable && g_cancellable_is_cancelled(work->cancellable);
}

static void on_progress(double part, void *data)
{
  CwTuneWork *work = data;
  if (work->progress)
    work->progress(part, part < 0.2 ? _("Choosing crossovers and delays") : _("Fitting the filters of all outputs together"), work->progress_data);
}

gboolean cw_tune_work_run(CwTuneWork *work, GCancellable *cancellable, CwProgress progress, gpointer data, GError **error)
{
  CwProposalInput input = {.car = work->car, .target_hz = work->target_hz, .target_db = work->target_db, .target_count = work->target_count,
                           .limits = work->limits, .delay_most_seconds = 1e-3 * work->delay_most_ms, .cancelled = is_cancelled, .progress = on_progress, .data = work};

  work->progress = progress;
  work->progress_data = data;
  work->cancellable = cancellable;
  work->proposal = cw_proposal_make(&input);
  if (!work->proposal)
    return g_cancellable_set_error_if_cancelled(cancellable, error), FALSE;
  return TRUE;
}

static double to_step(double value, double step)
{
  return isnan(step) || step <= 0 ? value : step * rint(value / step);
}

static double to_frequency_step(double hz, double per_octave)
{
  return isnan(per_octave) || per_octave <= 0 ? hz : 1000 * exp2(rint(log2(hz / 1000) * per_octave) / per_octave);
}

static void write_crossover(CwRecord *output, const CwCrossoverSetting *crossover, int shape, const char *why)
{
  CwRecord *section;

  if (crossover->order == 0)
    return;
  section = cw_record_add_child(output, "sections");
  cw_record_set_choice(section, "use", CW_USE_CROSSOVER);
  cw_record_set_choice(section, "kind", shape);
  cw_record_set_choice(section, "family", crossover->family == CW_FILTER_LINKWITZ_RILEY ? CW_FAMILY_LINKWITZ_RILEY
                                          : crossover->family == CW_FILTER_BUTTERWORTH  ? CW_FAMILY_BUTTERWORTH
                                                                                        : CW_FAMILY_BESSEL);
  cw_record_set_integer(section, "order", crossover->order);
  cw_record_set_number(section, "frequency_hz", crossover->corner_hz);
  cw_record_set_text(section, "why", why);
}

static void write_section(const CwTuneWork *work, CwRecord *output, const CwSection *s)
{
  double gain_db = to_step(s->gain_db, work->gain_step_db);
  CwRecord *section;

  if (fabs(gain_db) < 0.05)
    return;
  section = cw_record_add_child(output, "sections");
  g_autofree char *why = s->gain_db < 0 ? g_strdup_printf(_("Takes %.1f dB off where this speaker stands out around %.0f Hz"), -gain_db, s->frequency_hz)
                                        : g_strdup_printf(_("Lifts a broad dip around %.0f Hz by %.1f dB"), s->frequency_hz, gain_db);
  cw_record_set_choice(section, "use", CW_USE_CORRECTION);
  cw_record_set_choice(section, "kind", CW_SHAPE_PEAKING);
  cw_record_set_number(section, "frequency_hz", to_frequency_step(s->frequency_hz, work->steps_per_octave));
  cw_record_set_number(section, "gain_db", gain_db);
  cw_record_set_number(section, "q", fmin(fmax(to_step(s->q, work->q_step), work->limits.q_least), work->limits.q_most));
  cw_record_set_text(section, "why", why);
}

static void write_output(const CwTuneWork *work, CwRecord *tune, gsize o)
{
  const CwOutputSetting *s = &work->proposal->setting[o];
  const CwCarOutput *car_output = &work->car->output[o];
  CwRecord *output = cw_record_new(cw_tune_output_get_type()), *mix;
  double samples = to_step(s->delay_seconds * work->limits.rate_hz, work->delay_step);

  cw_record_set_integer(output, "output", car_output->number);
  mix = cw_record_make_child(output, "mix");
  cw_record_set_number(mix, "left", car_output->mix[0]);
  cw_record_set_number(mix, "right", car_output->mix[1]);
  cw_record_set_number(output, "gain_db", to_step(s->gain_db, work->gain_step_db));
  cw_record_set_choice(output, "polarity", s->inverted ? CW_POLARITY_INVERTED : CW_POLARITY_NORMAL);
  cw_record_set_number(output, "delay_samples", samples);
  cw_record_set_number(output, "delay_ms", 1e3 * samples / work->limits.rate_hz);
  write_crossover(output, &s->high_pass, CW_SHAPE_HIGH_PASS, _("Keeps what this speaker must not play away from it"));
  write_crossover(output, &s->low_pass, CW_SHAPE_LOW_PASS, _("Hands over to the speaker above"));
  for (gsize k = 0; k < s->sections; k++)
    write_section(work, output, &s->section[k]);
  cw_list_append(cw_record_get_children(tune, "outputs"), output);
  g_object_unref(output);
}

void cw_tune_work_store(CwTuneWork *work, CwProject *project)
{
  CwRecord *vehicle = cw_project_get_vehicle(project), *tune = cw_record_make_child(vehicle, "tune");
  static const char *const names[] = {"side_db", "both_db", "match_db", "loss_db"};
  const CwFitResult *r = &work->proposal->result;
  double figures[] = {r->side_db, r->both_db, r->match_db, r->loss_db};
  g_autofree char *now = cw_now_utc();

  cw_list_clear(cw_record_get_children(tune, "outputs"));
  cw_record_set_text(tune, "seat", work->seat ? work->seat : "all");
  cw_record_set_number(tune, "sample_rate_hz", work->limits.rate_hz);
  for (gsize o = 0; o < work->proposal->outputs; o++)
    write_output(work, tune, o);
  cw_record_take_numbers(tune, "figures", cw_numbers_new_named(4, names, figures));
  cw_record_set_text(tune, "made_utc", now);
  cw_job_review(vehicle);
}
