/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "job/survey.h"
#include "job/review.h"
#include "job/survey_mix.h"
#include "job/survey_record.h"
#include "job/tracks.h"
#include "vehicle/document.h"
#include <glib/gi18n-lib.h>
#include <math.h>

/* A recording of the list. */
typedef struct {
  char *id, *path, *seat;
  CwStimulusKind kind;
  double track_rate_hz, volume_step;
  guint n_leads;
  int *leads;
} Listed;

struct CwSurveyWork {
  CwRecord *vehicle; /* snapshot */
  double volts_per_full_scale;
  GArray *listed;
  GPtrArray *refused; /* sentences on recordings that were left out */
  CwSurveyResult *result;
  CwRecord *survey;
};

static void clear_listed(gpointer data)
{
  Listed *l = data;
  g_free(l->id);
  g_free(l->path);
  g_free(l->seat);
  g_free(l->leads);
}

static gboolean read_leads(CwRecord *take, guint index, Listed *l, GError **error)
{
  const CwNumbers *leads = cw_record_get_numbers(take, "leads");

  l->n_leads = leads ? leads->n_rows : 0;
  l->leads = g_new0(int, l->n_leads + 1);
  for (guint i = 0; i < l->n_leads; i++) {
    l->leads[i] = (int)cw_numbers_at(leads, i, 0);
    for (guint k = 0; k < i; k++)
      if (l->leads[k] == l->leads[i]) {
        g_set_error(error, CW_JOB_ERROR, CW_JOB_ERROR_RECORDING, "takes[%u].leads: lead %d is there twice", index, l->leads[i]);
        return FALSE;
      }
  }
  if (l->n_leads == 0)
    g_set_error(error, CW_JOB_ERROR, CW_JOB_ERROR_RECORDING, "takes[%u].leads: at least one lead was expected", index);
  return l->n_leads > 0;
}

static gboolean list_take(CwSurveyWork *work, CwRecord *take, guint index, const char *folder, GError **error)
{
  Listed l = {0};
  gint64 step = cw_record_get_integer(take, "volume_step");
  const char *recording = cw_record_get_text(take, "recording");

  if (!cw_job_read_track_name(cw_record_get_text(take, "track"), &l.kind, &l.track_rate_hz, error)) {
    g_prefix_error(error, "takes[%u].track: ", index);
    return FALSE;
  }
  l.id = g_strdup(cw_record_get_text(take, "id"));
  l.path = g_path_is_absolute(recording) || !folder ? g_strdup(recording) : g_build_filename(folder, recording, NULL);
  l.seat = g_strdup(cw_record_get_text(take, "seat_setting"));
  l.volume_step = step == CW_NO_INTEGER ? NAN : (double)step;
  gboolean good = read_leads(take, index, &l, error);
  g_array_append_val(work->listed, l);
  return good;
}

CwSurveyWork *cw_survey_work_new(CwRecord *vehicle, CwRecord *takes, const char *folder, GError **error)
{
  g_autoptr(CwSurveyWork) work = g_new0(CwSurveyWork, 1);
  CwList *list = cw_record_get_children(takes, "takes");

  work->vehicle = cw_record_snapshot(vehicle);
  work->volts_per_full_scale = cw_record_get_number(takes, "volts_per_full_scale");
  work->listed = g_array_new(FALSE, TRUE, sizeof(Listed));
  g_array_set_clear_func(work->listed, clear_listed);
  work->refused = g_ptr_array_new_with_free_func(g_free);
  for (guint i = 0; i < cw_list_get_length(list); i++)
    if (!list_take(work, cw_list_get(list, i), i, folder, error))
      return NULL;
  if (work->listed->len == 0) {
    g_set_error_literal(error, CW_JOB_ERROR, CW_JOB_ERROR_RECORDING, "takes: at least one take was expected");
    return NULL;
  }
  return g_steal_pointer(&work);
}

CwSurveyWork *cw_survey_work_read(CwRecord *vehicle, const char *path, GError **error)
{
  g_autofree char *text = NULL, *folder = g_path_get_dirname(path);
  gsize length;
  CwSurveyWork *work = NULL;

  if (g_file_get_contents(path, &text, &length, error)) {
    g_autoptr(CwRecord) takes = cw_record_from_json(cw_survey_takes_get_type(), text, (gssize)length, error);
    work = takes ? cw_survey_work_new(vehicle, takes, folder, error) : NULL;
  }
  if (!work)
    g_prefix_error(error, "%s: ", path);
  return work;
}

void cw_survey_work_free(CwSurveyWork *work)
{
  if (!work)
    return;
  g_clear_object(&work->vehicle);
  g_clear_object(&work->survey);
  g_clear_pointer(&work->listed, g_array_unref);
  g_clear_pointer(&work->refused, g_ptr_array_unref);
  cw_survey_result_free(work->result);
  g_free(work);
}

/* A take in which nothing was heard and from which nothing can be told. */
static void refuse_unheard(CwSurveyWork *work, gboolean unheard, CwStimulusKind kind)
{
  if (unheard)
    g_ptr_array_add(work->refused, g_strdup_printf(_("take \"%s\": none of the test tracks is in it: check that the radio plays and that the leads are connected"),
                                                   cw_stimulus_name(kind)));
}

/* Reads and hears one recording; what is wrong with it goes to the refused. */
static void hear(CwSurveyWork *work, CwLeadSurvey *survey, const Listed *l)
{
  g_autoptr(GError) fault = NULL;
  g_autoptr(CwRecording) r = cw_recording_read(l->path, &fault);
  g_autofree char *wrong = NULL;

  if (r && r->channels != l->n_leads) {
    wrong = g_strdup_printf(_("holds %u channels where %u leads were named"), r->channels, l->n_leads);
  } else if (r) {
    CwSurveyRecording recording = {l->kind, l->track_rate_hz, r->rate_hz, r->channels, r->frames, r->channel, l->leads, l->volume_step, l->seat};
    wrong = cw_lead_survey_hear(survey, &recording);
  }
  if (fault)
    g_ptr_array_add(work->refused, g_strdup(fault->message));
  else if (wrong)
    g_ptr_array_add(work->refused, g_strdup_printf("%s: %s", l->path, wrong));
}

gboolean cw_survey_work_run(CwSurveyWork *work, GCancellable *cancellable, CwProgress progress, gpointer data, GError **error)
{
  g_autoptr(CwLeadSurvey) survey = cw_lead_survey_new(work->volts_per_full_scale);

  for (guint i = 0; i < work->listed->len; i++) {
    const Listed *l = &g_array_index(work->listed, Listed, i);
    if (g_cancellable_set_error_if_cancelled(cancellable, error))
      return FALSE;
    if (progress)
      progress(0.8 * i / work->listed->len, _("Listening to the recordings"), data);
    hear(work, survey, l);
  }
  if (progress)
    progress(0.8, _("Working out what each lead carries"), data);
  work->result = cw_lead_survey_conclude(survey);
  if (!work->result) {
    g_set_error_literal(error, CW_JOB_ERROR, CW_JOB_ERROR_RECORDING,
                        work->refused->len ? (char *)g_ptr_array_index(work->refused, 0) : _("takes: none of the track \"leads\" is there, which the survey needs"));
    return FALSE;
  }
  work->survey = cw_job_survey_record(work->result);
  refuse_unheard(work, work->result->front_unheard, CW_STIMULUS_FRONT);
  refuse_unheard(work, work->result->rear_unheard, CW_STIMULUS_REAR);
  g_ptr_array_add(work->refused, NULL);
  cw_record_set_texts(work->survey, "refused", (const char *const *)work->refused->pdata);
  cw_job_mix_survey(work->survey, cw_record_get_child(work->vehicle, "processor"));
  return TRUE;
}

CwRecord *cw_survey_work_get_survey(CwSurveyWork *work)
{
  return work->survey;
}

void cw_survey_work_store(CwSurveyWork *work, CwProject *project)
{
  CwRecord *vehicle = cw_project_get_vehicle(project);

  cw_record_set_child(vehicle, "survey", work->survey);
  cw_job_apply_correction(vehicle);
  cw_job_review(vehicle);
}
