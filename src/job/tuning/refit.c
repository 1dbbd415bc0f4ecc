/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "job/tuning/refit.h"
#include "job/findings/review.h"
#include "job/tuning/measured_car.h"
#include "job/tuning/tune_record.h"
#include "vehicle/json/document.h"
#include "vehicle/json/json_scan.h"
#include <errno.h>
#include <glib/gstdio.h>
#include <math.h>
#include <unistd.h>

/* The text of the member "processor", where the text is an object that has one: an intake sheet, or part of
 * one. */
static char *processor_member(const char *text, gsize length)
{
  CwScan *scan = cw_scan_new(text, (gssize)length);
  g_autoptr(GString) found = g_string_new(NULL), other = g_string_new(NULL);
  const char *key;

  if (cw_scan_begin_object(scan))
    while ((key = cw_scan_next_key(scan)))
      cw_scan_anything(scan, g_str_equal(key, "processor") ? found : other);
  gboolean whole = cw_scan_finish(scan, NULL);
  return whole && found->len ? g_strdup(found->str) : NULL;
}

CwRecord *cw_job_read_processor(const char *text, gsize length, GError **error)
{
  g_autofree char *member = processor_member(text, length);
  CwRecord *processor = cw_record_from_json(cw_processor_get_type(), member ? member : text,
                                            member ? -1 : (gssize)length, error);

  if (!processor && member)
    g_prefix_error(error, "processor: ");
  return processor;
}

/* The settings of every speaker of the sheet, in its order; a speaker that the tune leaves out is silent. */
static CwOutputSetting *read_settings(CwRecord *vehicle, double rate_hz, GError **error)
{
  CwRecord *tune = cw_vehicle_get_tune(vehicle);
  CwList *speakers = cw_vehicle_get_speakers(vehicle);
  guint count = cw_list_get_length(speakers);
  g_autofree CwOutputSetting *settings = g_new0(CwOutputSetting, count);

  for (guint i = 0; i < count; i++) {
    gint64 number = cw_speaker_get_output(cw_list_get(speakers, i));
    CwRecord *output =
        cw_list_find_integer_at(cw_tune_get_outputs(tune), CW_TUNE_OUTPUT_FIELD_OUTPUT, number);
    if (!output || cw_tune_output_get_muted(output))
      settings[i].gain_db = -60;
    else if (!cw_job_read_setting(tune, output, rate_hz, &settings[i], error)) {
      g_prefix_error(error, "output %d: ", (int)number);
      return NULL;
    }
  }
  return g_steal_pointer(&settings);
}

static guint count_filters(CwRecord *tune)
{
  CwList *outputs = cw_tune_get_outputs(tune);
  guint count = 0;
  for (guint i = 0; i < cw_list_get_length(outputs); i++)
    count += cw_list_get_length(cw_tune_output_get_sections(cw_list_get(outputs, i)));
  return count;
}

/* The tune of the copy for its new processor. */
static gboolean refit_vehicle(CwProject *project, CwRecord *copy, CwRefitCost *cost, GError **error)
{
  CwRecord *tune = cw_vehicle_get_tune(copy);
  const char *seat = cw_tune_get_seat(tune);
  const CwNumbers *target = cw_vehicle_get_target(copy), *figures = cw_tune_get_figures(tune);
  CwLimits limits = cw_tuning_limits(cw_vehicle_get_processor(copy));
  g_autofree CwOutputSetting *settings = read_settings(copy, limits.rate_hz, error);
  CwCar *car = settings ? cw_job_measured_car(project, g_str_equal(seat, "all") ? NULL : seat,
                                              CW_PURPOSE_TUNING, error)
                        : NULL;
  guint rows = target ? target->n_rows : 0;
  g_autofree double *hz = g_new(double, rows + 1), *db = g_new(double, rows + 1);

  if (!car)
    return FALSE;
  for (guint i = 0; i < rows; i++) {
    hz[i] = cw_numbers_at(target, i, 0);
    db[i] = cw_numbers_at(target, i, 1);
  }
  CwProposalInput input = {
      .car = car, .target_hz = hz, .target_db = db, .target_count = rows, .limits = limits};
  CwProposal *proposal = cw_proposal_refit(&input, settings);
  *cost = (CwRefitCost){.inputs = cost->inputs,
                        .moved_side_db = proposal->result.side_db,
                        .moved_both_db = proposal->result.both_db,
                        .before_side_db = figures ? cw_numbers_named(figures, "side_db") : NAN,
                        .after_side_db = proposal->target_result.side_db,
                        .filters_before = count_filters(tune)};
  proposal->result = proposal->target_result; /* what the tune's figures speak of */
  cw_list_clear(cw_tune_get_voicing(tune));
  cw_list_clear(cw_tune_get_alternatives(tune));
  cw_job_write_tune(tune, car, proposal, NULL, limits.rate_hz);
  cost->filters_after = count_filters(tune);
  cw_job_refit_inputs(copy, &cost->inputs);
  cw_proposal_free(proposal);
  cw_car_free(car);
  return TRUE;
}

/* Copies the samples of the takes that the copy still speaks of. */
static gboolean bring_samples(CwProject *from, CwProject *to, GError **error)
{
  CwList *takes = cw_vehicle_get_takes(cw_project_get_vehicle(to));

  for (guint i = 0; i < cw_list_get_length(takes); i++) {
    const char *name = cw_take_get_blob(cw_list_get(takes, i));
    if (!*name || !cw_project_has_samples(from, name))
      continue;
    g_autoptr(CwSamples) samples = cw_project_get_samples(from, name, error);
    if (!samples)
      return FALSE;
    cw_project_put_samples(to, name, samples);
  }
  return cw_project_commit(to, "Refit the tune to another processor", error);
}

/* A name beside the wanted one that nothing has yet. */
static char *spare_name(const char *path)
{
  g_autofree char *folder = g_path_get_dirname(path), *name = g_path_get_basename(path),
                  *unique = g_uuid_string_random();
  return g_strdup_printf("%s" G_DIR_SEPARATOR_S ".%s-%.8s", folder, name, unique);
}

/* Gives the finished file its name; what has it already stays. */
static gboolean name_file(const char *spare, const char *path, GError **error)
{
  if (link(spare, path) == 0)
    return TRUE;
  int why = errno;
  if ((why == EPERM || why == EOPNOTSUPP || why == ENOSYS) && !g_file_test(path, G_FILE_TEST_EXISTS) &&
      g_rename(spare, path) == 0)
    return TRUE;
  return cw_job_refuse(error, CW_JOB_ERROR_FILE, "%s: %s", path,
                       why == EEXIST ? "is there already; it is not replaced" : g_strerror(why));
}

gboolean cw_job_refit(CwProject *project, CwRecord *processor, const char *path, CwRefitCost *cost,
                      GError **error)
{
  g_autoptr(CwRecord) copy = cw_record_copy(cw_project_get_vehicle(project));
  CwRecord *tune = cw_vehicle_get_tune(copy);
  g_autofree char *profile = cw_record_to_json(processor, NULL), *spare = spare_name(path);

  if (!tune || cw_list_get_length(cw_tune_get_outputs(tune)) == 0)
    return cw_job_refuse(error, CW_JOB_ERROR_VEHICLE, "the vehicle has no tune to refit yet");
  if (g_file_test(path, G_FILE_TEST_EXISTS))
    return cw_job_refuse(error, CW_JOB_ERROR_FILE, "%s: is there already; it is not replaced", path);
  cw_job_weigh_inputs(copy, &cost->inputs);
  if (!cw_record_apply(cw_vehicle_make_processor(copy), profile, -1, error) ||
      !refit_vehicle(project, copy, cost, error))
    return FALSE;
  cw_job_review(copy);
  CwProject *other = cw_project_create(spare, copy, error);
  gboolean good = other && bring_samples(project, other, error);
  g_clear_object(&other);
  good = good && name_file(spare, path, error);
  g_unlink(spare);
  return good;
}
